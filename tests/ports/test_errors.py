"""What is wrong with a port is said in words, with what to do about it."""

import errno
import os
import subprocess
import sys

import pytest
import serial

from logger.model.errors import PortError
from logger.ports.errors import (
    NoPermissionError,
    NoSuchPortError,
    PortBusyError,
    PortLostError,
    PortSettingsError,
    permission_advice,
    release_of,
    why,
)
from logger.ports.opening import close_port, open_port
from logger.wire.shapes.tables import PortLine


@pytest.mark.parametrize(
    ("cause", "kind", "words"),
    [
        (OSError(errno.ENOENT, "x"), NoSuchPortError, "no such port"),
        (OSError(errno.EACCES, "x"), NoPermissionError, "you may not open it"),
        (OSError(errno.EPERM, "x"), NoPermissionError, "you may not open it"),
        (OSError(errno.EBUSY, "x"), PortBusyError, "held by"),
        (serial.SerialException(errno.EAGAIN, "lock"), PortBusyError, "held by"),
        (OSError(errno.EINVAL, "x"), PortSettingsError, "check baud"),
        (ValueError("Not a valid baudrate"), PortSettingsError, "baudrate"),
        (OSError(errno.ENODEV, "x"), NoSuchPortError, "plug it in"),
        (OSError(errno.EIO, "strange"), PortError, "strange"),
    ],
)
def test_each_kind_of_trouble_at_opening_has_its_class_and_words(cause, kind, words):
    error = why(cause, "/dev/ttyX", opening=True)
    assert type(error) is kind
    assert str(error).startswith("/dev/ttyX: ")
    assert words in str(error)


@pytest.mark.parametrize("cause", [OSError(errno.EIO, "x"), TypeError("x"), ValueError("x")])
def test_trouble_with_an_open_port_means_lost(cause):
    assert isinstance(why(cause, "/dev/ttyX", opening=False), PortLostError)


@pytest.mark.parametrize(
    ("system", "words"),
    [
        ("linux", "usermod -aG"),
        ("darwin", "privacy"),
        ("win32", "close the program"),
        ("aix", "right"),
    ],
)
def test_the_advice_on_permission_is_that_of_the_system(system, words):
    assert words in permission_advice("/dev/null", system)


def test_a_missing_port_is_missing():
    with pytest.raises(NoSuchPortError, match="bainlog ports"):
        open_port("/dev/there-is-no-such-port", PortLine())


def test_a_serial_server_that_is_not_there_is_said():
    with pytest.raises(NoSuchPortError, match="nobody listens"):
        open_port("socket://127.0.0.1:9", PortLine())


def test_a_url_that_does_not_read_is_refused():
    with pytest.raises(PortError, match="nonsense"):
        open_port("nonsense://x", PortLine())


@pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")
def test_a_port_without_permission_is_told_apart(bench):
    """In a child that is nobody in particular: the superuser may open every port."""
    line = bench.line()
    os.chmod(line.port, 0o600)
    child = os.fork()
    if child == 0:
        code = 1
        try:
            if os.geteuid() == 0:
                os.setuid(65534)
            else:
                os.chmod(line.port, 0)
            open_port(os.path.realpath(line.port), PortLine())
        except NoPermissionError as told:
            code = 0 if "usermod" in str(told) or "privacy" in str(told) else 2
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == 0


def test_a_port_that_another_program_holds_names_it(bench):
    line = bench.line()
    text = (
        "import serial, sys; p = serial.Serial(sys.argv[1], exclusive=True); "
        "print('held', flush=True); sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", text, line.port], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    try:
        assert holder.stdout.readline() == b"held\n"
        with pytest.raises(PortBusyError, match=f"process {holder.pid}"):
            open_port(line.port, PortLine())
    finally:
        holder.stdin.close()
        holder.wait(60)
        holder.stdout.close()


def test_a_real_tty_is_claimed_for_this_process_alone(bench, monkeypatch):
    """Seen through the flag itself (TIOCGEXCL), as the superuser may open a claimed port."""
    import fcntl
    import struct

    monkeypatch.setattr("logger.ports.opening.is_pseudo", lambda device: False)
    line = bench.line()
    port = open_port(line.port, PortLine())
    flag = fcntl.ioctl(port.fileno(), 0x80045440, struct.pack("i", 0))
    close_port(port)
    assert struct.unpack("i", flag) == (1,)


def test_a_pseudo_terminal_takes_any_parity(bench):
    """A second opening with parity is refused by the system; a pseudo-terminal has none to set."""
    line = bench.line()
    for _ in range(2):
        close_port(open_port(line.port, PortLine(bits=7, parity="E")))


@pytest.mark.parametrize(
    ("holder", "words"),
    [
        (None, "end that program first"),
        ("/usr/bin/logger --tty (process 417)", "run 'kill 417'"),
        ("/x/python -m logger.recorder.process (process 417)", "bainlog's own recorder"),
        ("/usr/sbin/ModemManager (process 9)", "run 'sudo systemctl stop ModemManager'"),
        ("/bin/brltty -b usb (process 9)", "run 'sudo systemctl stop brltty brltty.path'"),
    ],
)
def test_who_holds_a_port_is_told_with_the_command_that_frees_it(holder, words):
    assert words in release_of(holder)


def test_a_missing_port_names_the_service_that_takes_adapters(monkeypatch):
    monkeypatch.setattr("logger.ports.errors._running", lambda: {"sh", "brltty"})
    assert "brltty is taking it" in str(
        why(OSError(errno.ENOENT, "x"), "/dev/ttyUSB0", opening=True)
    )
    monkeypatch.setattr("logger.ports.errors._running", lambda: {"sh", "ModemManager"})
    assert "bainlog ports" in str(why(OSError(errno.ENOENT, "x"), "/dev/ttyUSB0", opening=True))


def test_who_was_put_into_the_group_only_now_logs_in_again(monkeypatch):
    monkeypatch.setattr("logger.ports.errors._is_member", lambda group: True)
    assert "log out and in again" in permission_advice("/dev/null", "linux")

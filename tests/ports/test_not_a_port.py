"""Every place where a port comes in refuses what is none, before anything is opened."""

import os

import pytest
import serial

from logger.model.bench import Instrument, Switch
from logger.model.errors import InputError
from logger.ports.errors import NotAPortError
from logger.ports.finding.listen import survey
from logger.ports.footswitch import FootSwitchThread
from logger.ports.identity import resolve
from logger.ports.instrument import InstrumentThread
from logger.ports.opening import open_port
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.shapes.tables import PortLine


@pytest.fixture
def precious(tmp_path):
    """A file that must stay as it is."""
    path = tmp_path / "precious.txt"
    path.write_text("precious")
    yield path
    assert path.read_text() == "precious"


def spies(path):
    return [f"{scheme}:///dev/null?file={path}" for scheme in ("spy", "SPY", "Spy")]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_the_serial_library_itself_would_empty_the_file(tmp_path):
    """What this is about; so the tests here can fail."""
    path = tmp_path / "x"
    path.write_text("precious")
    serial.serial_for_url(f"SPY:///dev/null?file={path}", do_not_open=True)
    assert path.read_text() == ""


def test_opening_refuses(precious):
    for port in [*spies(precious), str(precious), str(precious.parent), "alt://x", "usb:vid=1"]:
        with pytest.raises(NotAPortError):
            open_port(port, PortLine())


@pytest.mark.skipif(os.name != "posix", reason="named pipes are a POSIX matter")
def test_a_named_pipe_is_no_port(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(NotAPortError):
        open_port(str(tmp_path / "pipe"), PortLine())


@pytest.mark.skipif(os.name != "posix", reason="device files are a POSIX matter")
@pytest.mark.parametrize("device", ["/dev/ptmx", "/dev/pts/ptmx", "/dev/tty", "/dev/null", "link"])
def test_a_device_that_is_no_serial_port_is_refused_unopened(device, tmp_path, monkeypatch):
    """Opening is what does harm: the multiplexer makes a terminal, a watchdog's file arms it."""
    if device == "link":
        device = str(tmp_path / "link")
        os.symlink("/dev/ptmx", device)
    if not os.path.exists(device):
        pytest.skip(f"no {device} here")
    monkeypatch.setattr(serial.Serial, "open", lambda self: pytest.fail(f"{device} was opened"))
    with pytest.raises(NotAPortError, match="a device of another kind, not a serial port"):
        open_port(device, PortLine())


def test_a_pseudo_terminal_is_a_port():
    main, other = os.openpty()
    try:
        open_port(os.ttyname(other), PortLine()).close()
    finally:
        os.close(main)
        os.close(other)


def test_resolving_and_listening_refuse(precious):
    for port in spies(precious):
        with pytest.raises(InputError, match="is not a port that can be read"):
            resolve(port, list)
        with pytest.raises(InputError, match="is not a port that can be read"):
            survey(0.1, devices=[port], shapes={})


@pytest.mark.parametrize("what", ["instrument", "switch"])
def test_a_thread_on_such_a_port_says_so_and_goes_on(precious, bench, until, what):
    for port in spies(precious):
        if what == "switch":
            switch = Switch.model_construct(port=port, line="cts", byte=None, active="high")
            thread = FootSwitchThread(switch, bench.clock, 0, bench.sink)
        else:
            shape = "flag-first comma weight"
            instrument = Instrument.model_validate({"id": "s", "shape": shape, "port": port})
            thread = InstrumentThread(
                instrument, builtin_shapes()[shape], bench.clock, 0, bench.sink
            )
        thread.start()
        until(lambda thread=thread: thread.status().status == "lost")
        assert "is not a port that can be read" in thread.status().says
        thread.stop()
        thread.join(20.0)

"""Device numbers that are serial ports, by the system's table of drivers.

Numbers: Linux, Documentation/admin-guide/devices.txt (from memory).
"""

import os

import pytest

from logger.ports import terminals
from logger.ports.terminals import is_in_table, is_terminal

TABLE = """\
/dev/tty             /dev/tty        5       0 system:/dev/tty
/dev/console         /dev/console    5       1 system:console
/dev/ptmx            /dev/ptmx       5       2 system
/dev/vc/0            /dev/vc/0       4       0 system:vtmaster
rfcomm               /dev/rfcomm   216 0-255 serial
acm                  /dev/ttyACM   166 0-255 serial
usbserial            /dev/ttyUSB   188 0-511 serial
serial               /dev/ttyS       4 64-67 serial
serial one           /dev/ttyAMA   204      64 serial
pty_slave            /dev/pts      136 0-1048575 pty:slave
pty_master           /dev/ptm      128 0-1048575 pty:master
unknown              /dev/tty        4 1-63 console
"""


@pytest.mark.parametrize(
    ("name", "major", "minor", "taken"),
    [
        ("ttyUSB0", 188, 0, True),
        ("ttyACM7", 166, 7, True),
        ("ttyS0", 4, 64, True),
        ("ttyS4", 4, 68, False),
        ("ttyAMA0", 204, 64, True),
        ("ttyAMA1", 204, 65, False),
        ("rfcomm3", 216, 3, True),
        ("pts/9999", 136, 9999, True),
        ("ptmx", 5, 2, False),
        ("tty", 5, 0, False),
        ("console", 5, 1, False),
        ("tty1", 4, 1, False),
        ("ptm", 128, 3, False),
        ("null", 1, 3, False),
        ("mem", 1, 1, False),
        ("watchdog", 10, 130, False),
    ],
)
def test_serial_ports_and_pseudo_terminals_are_taken_and_no_others(name, major, minor, taken):
    assert is_in_table(major, minor, TABLE.splitlines()) is taken


def test_lines_that_do_not_read_are_passed_over():
    assert not is_in_table(4, 64, ["", "serial /dev/ttyS 4", "/dev/ttyS 4 64-x serial", "\x00"])


@pytest.mark.skipif(os.name != "posix", reason="device files are a POSIX matter")
@pytest.mark.parametrize("table", ["of the system", "none"])
def test_without_a_table_the_name_tells(table, tmp_path, monkeypatch):
    if table == "none":
        monkeypatch.setattr(terminals, "DRIVERS", tmp_path / "none")
        link = tmp_path / "ttyUSB0"
        link.symlink_to("/dev/null")
        assert not is_terminal(link)
    assert not is_terminal(terminals.Path("/dev/null"))
    assert not is_terminal(terminals.Path("/dev/tty"))
    assert not is_terminal(terminals.Path("/dev/ptmx"))

"""A port that was lost is taken back only when the same device is there."""

import contextlib
import os
import termios
from types import SimpleNamespace

import pytest

from logger.ports import sameport
from logger.ports.errors import NoSuchPortError
from logger.ports.sameport import DifferentDeviceError, Mark, is_the_same, mark_of
from logger.wire.emit import Emitter
from logger.wire.shapes.shape import builtin_shapes
from tests.faults.scale import until as until_true

SCALE = "flag-first comma weight"
SHAPE = builtin_shapes()[SCALE]


def weight(mass_g: float) -> bytes:
    return Emitter(SHAPE).line({"mass": mass_g})


def a_terminal_named(name: str) -> tuple[int, int]:
    """Another program's terminal that got a number; others that come up on the way are closed."""
    found: list[tuple[int, int]] = []

    def look() -> bool:
        tried = [os.openpty() for _ in range(20)]
        found.extend(pair for pair in tried if os.ttyname(pair[1]) == name)
        for pair in tried:
            if pair not in found:
                os.close(pair[0])
                os.close(pair[1])
        return bool(found)

    until_true(look, f"{name} again")
    return found[0]


def test_the_number_of_a_terminal_that_is_gone_is_not_opened_in_another_programs_hands(
    bench, until
):
    """The other program's line settings stay as they are, and what is typed there is its own."""
    line = bench.line()
    name = os.ttyname(line.other)
    thread = bench.thread(name, SCALE)
    line.send(b"\r\n" + weight(10.0))
    bench.sink.wait(lambda s: s.values() == [10.0], "the instrument")
    line.unplug()
    bench.sink.wait(lambda s: s.batches[-1].kind == "close", "the close")
    main, other = a_terminal_named(name)
    try:
        settings = termios.tcgetattr(other)
        bench.sink.wait(lambda s: "wrong_device" in s.kinds, "the refusal")
        os.write(main, b"a password\n")
        assert os.read(other, 100) == b"a password\n"
        assert termios.tcgetattr(other) == settings
        assert thread.status().status == "wrong_device"
        assert bench.sink.values() == [10.0]
        assert "not opened" in bench.sink.events[-1].text
    finally:
        os.close(main)
        os.close(other)


def test_a_link_left_behind_does_not_lead_to_the_terminal_that_came_after(
    tmp_path, monkeypatch, until
):
    monkeypatch.setattr(sameport, "SLACK_NS", 0)
    main, other = os.openpty()
    name, link = os.ttyname(other), tmp_path / "scale"
    link.symlink_to(name)
    assert mark_of(str(link), list).terminal is not None
    made_ns = link.lstat().st_ctime_ns

    def again():
        nonlocal main, other
        os.close(main)
        os.close(other)
        main, other = a_terminal_named(name)
        return os.stat(name).st_ctime_ns > made_ns

    until(again)
    with pytest.raises(DifferentDeviceError, match="an old link"):
        mark_of(str(link), list)
    link.unlink()
    link.symlink_to(name)
    assert mark_of(str(link), list).link is not None
    os.close(main)
    os.close(other)


def test_a_link_made_anew_is_taken_back_once_its_lines_read(bench, until):
    """Where nothing proves that it is the same instrument its own lines must."""
    line = bench.line()
    thread = bench.thread(line.port, SCALE)
    line.send(b"\r\n" + weight(10.0))
    bench.sink.wait(lambda s: s.values() == [10.0], "the instrument")
    line.unplug()
    bench.sink.wait(lambda s: "lost" in s.kinds, "the loss")
    line.plug()
    until(lambda: thread.status().status == "checking")
    for _ in range(8):
        line.send(b"\xff\xfe some other words\r\n")
    bench.sink.wait(lambda s: "wrong_device" in s.kinds, "the refusal")

    def nudge():
        with contextlib.suppress(OSError):
            line.send(weight(12.0))

    bench.sink.wait(lambda s: 12.0 in s.values(), "the instrument again", nudge=nudge)
    assert set(bench.sink.values()) == {10.0, 12.0}
    assert b"words" not in bench.sink.data


def adapter(serial, vid=0x0403):
    return SimpleNamespace(device="/dev/null", vid=vid, pid=0x6001, serial_number=serial)


@pytest.mark.parametrize(
    ("before", "now", "same"),
    [
        (adapter("A9"), adapter("A9"), True),
        (adapter("A9"), adapter("B1"), None),
        (adapter("A9"), adapter(None), None),
        (adapter(None), adapter(None), False),
        (adapter(None), adapter(None, vid=0x10C4), None),
    ],
)
def test_an_adapter_is_known_by_maker_kind_and_serial_number(before, now, same):
    """None: refused; False: its lines must prove it."""
    marks = [mark_of("/dev/null", lambda one=one: [one]) for one in (before, now)]
    if same is None:
        with pytest.raises(DifferentDeviceError, match="another adapter"):
            is_the_same("usb", *marks)
    else:
        assert is_the_same("usb", *marks) is same


def test_nothing_is_proven_of_a_network_port():
    assert mark_of("socket://127.0.0.1:9", list) == Mark()
    assert not is_the_same("socket://127.0.0.1:9", Mark(), Mark())


def test_what_is_not_there_has_no_mark(tmp_path):
    """Else a terminal that comes up between the look and the opening would be opened unseen."""
    (tmp_path / "scale").symlink_to("/dev/pts/999999")
    for name in ("/dev/pts/999999", str(tmp_path / "scale")):
        with pytest.raises(NoSuchPortError, match="no such port"):
            mark_of(name, list)

"""A foot switch on a modem line, and one that sends bytes."""

import threading

import pytest
import serial

from logger.model.bench import Switch
from logger.ports.clock import Clock
from logger.ports.errors import PortLostError
from logger.ports.footswitch import FootSwitchThread
from logger.ports.opening import open_port
from logger.wire.shapes.tables import PortLine


class Contact:
    """Stands for an open port: its ``cts`` and ``dsr`` follow a script, one state a look."""

    def __init__(self, states: list[bool], done: threading.Event) -> None:
        self._states, self._done = iter(states), done
        self.last = False

    def _look(self) -> bool:
        try:
            self.last = next(self._states)
        except StopIteration:
            self._done.set()
        return self.last

    cts = property(_look)
    dsr = property(_look)


class StepClock(Clock):
    """A clock that goes on by 10 ms at each look."""

    def __init__(self) -> None:
        super().__init__()
        self.t_ns = 0

    def now_ns(self) -> int:
        self.t_ns += 10_000_000
        return self.t_ns


def marks_of(states: list[bool], bench, **how: object) -> list[tuple[str, int]]:
    """Return what a switch says whose contact runs through states, one each 10 ms."""
    switch = Switch.model_validate({"port": "x", "line": "cts", **how})
    thread = FootSwitchThread(switch, StepClock(), 0, bench.sink)
    done = threading.Event()
    looking = threading.Thread(target=thread.watch, args=(Contact(states, done),), daemon=True)
    looking.start()
    assert done.wait(60)
    thread.stop()
    looking.join(20)
    bench.sink.take_all()
    return [(e.kind, e.t_ns // 1_000_000) for e in bench.sink.events]


@pytest.mark.parametrize("line", ["cts", "dsr"])
def test_a_step_is_one_mark_at_its_first_edge(line, bench):
    states = [False, True, False, True, True, True, True, True] + [False] * 20
    assert marks_of(states, bench, line=line) == [("foot_mark", 20)]


def test_an_active_low_contact_is_read_the_other_way(bench):
    states = [True, True, False, False, False, False, False, False] + [True] * 20
    assert marks_of(states, bench, active="low") == [("foot_mark", 30)]


def test_a_hold_takes_back(bench):
    states = [False, True] + [True] * 160 + [False] * 5
    assert [kind for kind, _ in marks_of(states, bench)] == ["foot_mark", "foot_undo", "foot_undo"]


def test_a_looped_back_modem_line_is_seen():
    """On loop:// CTS follows RTS: a real port object, with its real property."""
    port = serial.serial_for_url("loop://")
    states = []
    for rts in (False, True, False):
        port.rts = rts
        states.append(port.cts)
    port.close()
    assert states == [False, True, False]


def test_a_port_without_modem_lines_is_lost_not_silent(bench):
    """A pseudo-terminal has none: reading them fails, and that is said."""
    line = bench.line()
    switch = Switch.model_validate({"port": line.port, "line": "cts"})
    thread = FootSwitchThread(switch, bench.clock, 0, bench.sink)
    port = open_port(line.port, PortLine())
    with pytest.raises(PortLostError):
        thread.watch(port)
    port.close()


def test_a_board_that_sends_bytes_marks_and_survives_a_pulled_plug(bench, until):
    line = bench.line()
    switch = Switch.model_validate({"port": line.port, "byte": "M"})
    thread = FootSwitchThread(switch, bench.clock, bench.clock.now_ns(), bench.sink)
    thread.start()
    try:
        until(lambda: thread.status().status == "connected")
        line.send(b"M")
        bench.sink.wait(lambda s: "foot_mark" in s.kinds, "a mark")
        line.unplug()
        bench.sink.wait(lambda s: "lost" in s.kinds, "the loss")
        line.plug()
        until(lambda: thread.status().status == "connected")
        line.send(b"M")
        bench.sink.wait(lambda s: s.kinds.count("foot_mark") == 2, "another mark")
    finally:
        thread.stop()
        thread.join(20)
    assert thread.status().status == "stopped"

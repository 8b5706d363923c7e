"""The virtual bench: all its instruments over real ports, one batch clock, and the files for it.

Thin I/O: makes the run, opens a pseudo-terminal (or a TCP port) for each instrument and lets
``player`` speak. Used by the demo and by tests.
"""

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from logger.model.errors import InputError
from logger.virtual.batch.acts import Word
from logger.virtual.lines.batch_clock import BatchClock, check_speed
from logger.virtual.lines.bench_file import bench_text, sheet_text
from logger.virtual.lines.player import VirtualInstrument
from logger.virtual.lines.printed import Printer
from logger.virtual.lines.terminals import open_terminal
from logger.virtual.readings.faults import Fault
from logger.virtual.readings.simulate import SimulatedRun, simulate, wirings_of
from logger.virtual.readings.traces import Wiring
from logger.wire.shapes.shape import Shape, builtin_shapes


class VirtualBench:
    """A bench of virtual instruments over real ports.

    Parameters
    ----------
    folder : Path
        Where the symlinks of the pseudo-terminals go, under ``by-id``.
    seed : int
        The same seed gives the same batch.
    speed : float
        Batch seconds per real second, above 0 up to 60.
    short : bool
        The short batch of about 12 minutes.
    faults, causes : iterable
        As in `simulate`.
    oven : bool
        Add a reader of Modbus registers.
    shapes : mapping of str to str
        Other line shapes for some instruments, by instrument id.
    tcp : bool or None
        Over TCP on loopback; None only where there are no pseudo-terminals.
    line_shapes : mapping of str to Shape or None
        Shapes known by name; None is the built-in ones.
    strict_baud : bool
        Let a reader at another baud rate see garbage, as on a real line.
    rate_hz : float or None
        Highest sample rate [1/s], as in `simulate`.
    clock : BatchClock or None
        Another clock than the machine's at `speed`.

    Raises
    ------
    InputError
        If a fault, a cause, a shape or the speed is not known or possible.
    """

    def __init__(
        self,
        folder: Path,
        seed: int = 1,
        speed: float = 1.0,
        short: bool = False,
        faults: Iterable[str | Fault] = (),
        causes: Iterable[str] = (),
        *,
        oven: bool = False,
        shapes: Mapping[str, str] | None = None,
        tcp: bool | None = None,
        line_shapes: Mapping[str, Shape] | None = None,
        strict_baud: bool = False,
        rate_hz: float | None = None,
        clock: BatchClock | None = None,
    ) -> None:
        check_speed(speed)
        self.run: SimulatedRun = simulate(
            seed, causes, faults, short=short, oven=oven, rate_hz=rate_hz
        )
        self._clock = clock or BatchClock(speed)
        self._strict_baud = strict_baud
        known = builtin_shapes() if line_shapes is None else line_shapes
        self.instruments: dict[str, VirtualInstrument] = {}
        try:
            for wiring in wirings_of(self.run):
                self._add(wiring, folder, known, shapes or {}, tcp)
        except BaseException:
            self._close()
            raise

    def _add(
        self,
        wiring: Wiring,
        folder: Path,
        known: Mapping[str, Shape],
        shapes: Mapping[str, str],
        tcp: bool | None,
    ) -> None:
        name = shapes.get(wiring.id, wiring.shape)
        if name not in known:
            raise InputError(f"shape {name!r}", "unknown", f"give one of {', '.join(known)}")
        printer = Printer(replace(wiring, shape=name), known[name], self.run)
        self.instruments[wiring.id] = VirtualInstrument(
            printer,
            open_terminal(folder / "by-id" / wiring.id, tcp=tcp),
            self._clock,
            self.run.faults,
            self.run.seed,
            strict_baud=self._strict_baud,
        )

    @property
    def speed(self) -> float:
        """Batch seconds per real second."""
        return self._clock.speed

    @property
    def now_s(self) -> float:
        """Where the batch is [s]."""
        return self._clock.now_s()

    @property
    def end_s(self) -> float:
        """How long the batch is [s]."""
        return self.run.script.end_s

    def start(self) -> None:
        """Begin the batch; the instruments begin to speak."""
        self._clock.restart()
        for instrument in self.instruments.values():
            instrument.start()

    @property
    def origin_s(self) -> float:
        """When the batch began [s of the machine's monotonic clock]."""
        return self._clock.origin_s

    def restart(self) -> None:
        """Begin the batch again: call it when a run starts.

        Once it returns, no reader gets any line of before.
        """
        for instrument in self.instruments.values():
            instrument.hush()
        for instrument in self.instruments.values():
            instrument.await_quiet()
        self._clock.restart()
        for instrument in self.instruments.values():
            instrument.wake()
        for instrument in self.instruments.values():
            instrument.await_rewound()

    def stop(self) -> None:
        """Stop the instruments and take their ports away."""
        self._close()

    def _close(self) -> None:
        for instrument in self.instruments.values():
            instrument.stop()

    def __enter__(self) -> "VirtualBench":
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def bench_text(self, checked: datetime.date | None = None) -> str:
        """Return a bench file for the ports as they are.

        Parameters
        ----------
        checked : date or None
            Date of the probes' last check; None is last week.
        """
        date = checked or datetime.datetime.now(datetime.UTC).date() - datetime.timedelta(days=7)
        printers = [i.printer for i in self.instruments.values()]
        ports = [i.terminal.port for i in self.instruments.values()]
        return bench_text(self.run, list(zip(printers, ports, strict=True)), date)

    def sheet_text(self) -> str:
        """Return the batch sheet of this batch."""
        return sheet_text(self.run)

    def operator_script(self) -> list[Word]:
        """Return what the operator says: (time in the batch [s], kind, data)."""
        return list(self.run.events)

    def truth(self) -> dict[str, Any]:
        """Return what really happens in this batch; see ``judge.truth_of``."""
        return self.run.truth

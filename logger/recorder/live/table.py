"""The bench as it is wired now: the setup, and one thread for each port.

Thin I/O. Port threads hand what they read to a sink; another bench file replaces the threads of a
bench whose instruments changed.
"""

from logger.model.state import PortRow
from logger.ports.batch import Sink
from logger.ports.clock import Clock
from logger.ports.footswitch import FootSwitchThread
from logger.ports.instrument import InstrumentThread
from logger.recorder.live.wiring import channel_records
from logger.recorder.setup import Setup
from logger.store.run.records import ChannelRecord

JOIN_S = 5.0
"""Longest wait for a port's thread to end [s]."""


class Table:
    """Instruments and foot switches of one bench.

    Parameters
    ----------
    setup : Setup
        Bench and line formats.
    clock : Clock
        The recorder's clock.
    sink : callable
        Takes what ports deliver.

    Raises
    ------
    InputError
        If the bench does not fit its line formats.
    """

    def __init__(self, setup: Setup, clock: Clock, sink: Sink) -> None:
        self._clock = clock
        self._sink = sink
        self.records: tuple[ChannelRecord, ...] = channel_records(setup.bench, setup.shapes)
        """How each channel is stored."""
        self.setup = setup
        self._wire()

    def start(self) -> None:
        """Open the ports."""
        for thread in self._threads():
            thread.start()

    def stop(self) -> None:
        """Close the ports and wait until they are closed."""
        for thread in self._threads():
            thread.stop()
        for thread in self._threads():
            thread.join(JOIN_S)

    def rewire(self, setup: Setup) -> None:
        """Go on with another setup; ports whose instruments are the same stay open.

        Raises
        ------
        InputError
            If the bench does not fit its line formats; nothing is changed then.
        """
        records = channel_records(setup.bench, setup.shapes)
        old, self.setup, self.records = self.setup.bench, setup, records
        if (old.instrument, old.switch) != (setup.bench.instrument, setup.bench.switch):
            self.stop()
            self._wire()
            self.start()

    def ports(self) -> list[PortRow]:
        """Return what the screen shows of each instrument's port."""
        return [thread.status() for thread in self._instruments]

    def open_instruments(self) -> list[str]:
        """Return the ids of the instruments whose ports are open."""
        return [t.instrument.id for t in self._instruments if t.status().status == "connected"]

    def _wire(self) -> None:
        bench, shapes = self.setup.bench, self.setup.shapes
        self._instruments = [
            InstrumentThread(i, shapes[i.shape], self._clock, 0, self._sink)
            for i in bench.instrument
        ]
        taken = {i.port for i in bench.instrument}
        self._switches = [
            FootSwitchThread(s, self._clock, 0, self._sink)
            for s in bench.switch
            if s.port not in taken
        ]

    def _threads(self) -> list[InstrumentThread | FootSwitchThread]:
        return [*self._instruments, *self._switches]

"""A disk that fails for a while: what it did not take waits in memory and is written later."""

import threading
from datetime import date

import pytest

from logger.model.errors import StoreError
from logger.model.files import bench_from_text, sheet_from_text
from logger.ports.batch import PortBatch
from logger.ports.clock import Clock
from logger.recorder.live.current import Current
from logger.recorder.live.inbox import Inbox
from logger.recorder.live.writer import Writer
from logger.science.fats.fatfile import builtin_fats
from logger.store.folder.datafolder import DataFolder
from logger.wire.shapes.shape import builtin_shapes


class FailingFile:
    """Refuses every write until it is mended, then keeps all."""

    def __init__(self) -> None:
        self.broken = threading.Event()
        self.refused = threading.Event()
        self.values: list[float] = []

    def write(self, batch):
        if self.broken.is_set():
            self.refused.set()
            raise StoreError("run file: the disk fails (I/O error)")
        self.values += [r.value for r in batch.readings]
        return list(range(len(batch.events)))

    def compact(self) -> None:
        pass


@pytest.mark.parametrize("breaks", [False, True])
def test_readings_that_a_failing_disk_refused_are_written_when_it_works_again(
    tmp_path, eventually, breaks
):
    bench = bench_from_text(
        '[[instrument]]\nid = "s"\nport = "/dev/none"\nshape = "flag-first comma weight"\n'
        '[[channel]]\nid = "m"\ninstrument = "s"\nfield = "mass"\nrole = "bath_scale"\n', "bench"
    )  # fmt: skip
    sheet = sheet_from_text('[sheet]\nname = "x"\n', "sheet")
    file, clock, inbox = FailingFile(), Clock(), Inbox()
    current = Current(
        bench, builtin_shapes(), sheet, builtin_fats(), origin_ns=clock.now_ns(),
        today=date(2026, 11, 25), file=file, run_id="r",
    )  # fmt: skip
    writer = Writer(
        clock, inbox, current, turn_over=None, edit=None, ports=list, ballast=DataFolder(tmp_path)
    )
    writer.start()
    try:
        for number in range(20):
            if number == 10 and breaks:
                eventually(lambda: len(file.values) >= 9)
                file.broken.set()
            line = b"ST,GS,+%8.1f  g\r\n" % number
            inbox.deliver(PortBatch("s", clock.now_ns(), "open" if number == 0 else "data", b""))
            inbox.deliver(PortBatch("s", clock.now_ns() + 40_000_000, "data", line))
        if breaks:
            eventually(file.refused.is_set)
            assert writer.state()["recorder"]["disk"] == "full"
            file.broken.clear()
        eventually(lambda: len(file.values) >= 19)
        assert file.values == [float(n) for n in range(20 - len(file.values), 20)]
    finally:
        writer.stop()
        writer.join()

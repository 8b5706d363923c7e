"""A recorder's two threads over a file of the test's own, without ports or processes."""

import threading
from datetime import date

import pytest

from logger.model.errors import StoreError
from logger.model.files import bench_from_text, sheet_from_text
from logger.ports.batch import PortBatch
from logger.ports.clock import Clock
from logger.recorder.live.current import Current
from logger.recorder.live.inbox import Inbox
from logger.recorder.live.latest import LatestState
from logger.recorder.live.owner import Owner
from logger.recorder.live.runs import Runs
from logger.recorder.live.table import Table
from logger.recorder.live.writer import Writer
from logger.recorder.setup import Setup
from logger.science.fats.fatfile import builtin_fats
from logger.store.folder.datafolder import DataFolder
from logger.wire.shapes.shape import builtin_shapes

BENCH = (
    '[[instrument]]\nid = "s"\nport = "/dev/none"\nshape = "flag-first comma weight"\n'
    '[[channel]]\nid = "m"\ninstrument = "s"\nfield = "mass"\nrole = "bath_scale"\n'
)


class TestFile:
    """A run file in memory that can be slow, or refuse."""

    __test__ = False

    def __init__(self, path):
        self.path = path
        self.broken = threading.Event()
        self.refused = threading.Event()
        self.held = threading.Event()
        self.free = threading.Event()
        self.free.set()
        self.values, self.kinds, self.ended_utc_ns = [], [], None

    def write(self, batch):
        if not self.free.is_set():
            self.held.set()
            assert self.free.wait(60.0)
        if self.broken.is_set():
            self.refused.set()
            raise StoreError("run file: the disk fails (I/O error)")
        self.values += [r.value for r in batch.readings]
        self.kinds += [e.kind for e in batch.events]
        return list(range(len(self.kinds) - len(batch.events), len(self.kinds)))

    def compact(self):
        pass

    def finish(self, results, ended_utc_ns):
        if self.broken.is_set():
            raise StoreError("run file: the disk fails (I/O error)")
        self.ended_utc_ns = ended_utc_ns

    def close(self):
        pass


class Threads:
    """Owner and writer of a run under way."""

    def __init__(self, path):
        bench, shapes = bench_from_text(BENCH, "bench"), builtin_shapes()
        self.folder, self.clock, self.inbox = DataFolder(path), Clock(), Inbox()
        self.latest = LatestState(self.inbox.wake)
        self.file = TestFile(path / "r.run")
        self.writer = Writer(self.latest, self.folder)
        setup = Setup(bench=bench, bench_text="", shapes=shapes, fats=builtin_fats())
        table = Table(setup, self.clock, self.inbox.deliver)
        current = Current(
            bench, shapes, sheet_from_text('[sheet]\nname = "x"\n', "sheet"), builtin_fats(),
            origin_ns=self.clock.now_ns(), today=date(2026, 11, 25), file=self.file, run_id="r",
        )  # fmt: skip
        self.owner = Owner(
            self.clock, self.inbox, table=table,
            runs=Runs(self.folder, table, self.clock, self.writer),
            writer=self.writer, latest=self.latest, current=current,
        )  # fmt: skip
        self.writer.start()
        self.owner.start()

    def say(self, kind, data=b"", later_ns=0):
        self.inbox.deliver(PortBatch("s", self.clock.now_ns() + later_ns, kind, data))

    def stop(self):
        self.file.free.set()
        self.owner.stop()
        self.owner.join()
        self.writer.stop()
        self.writer.join()


@pytest.fixture
def threads(tmp_path):
    made = Threads(tmp_path)
    yield made
    made.stop()

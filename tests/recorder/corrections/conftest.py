"""A recorder in this process on the counting scale, and what it has stored."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from logger.model.bench import Bench as ModelBench
from logger.model.files import bench_from_text
from logger.ports.clock import Clock
from logger.recorder.live.session import Recorder
from logger.recorder.replay.replay import judge
from logger.recorder.setup import fats_of, setup_from_files
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView

SHEET = """
[sheet]
name = "Smoked beet and barley roll"

[[ingredient]]
name = "oat fibre"
phase = "water"
mass = "12 g"
lot = "OF-1"

[[stage]]
id = "warm"
kind = "heat"
title = "Warm both"
fat = { low = "44 degC", high = "58 degC" }
water = { low = "42 degC", high = "56 degC" }

[[stage]]
id = "skin"
kind = "set"
title = "Set the skin"
dwell = { low = "6 min", high = "12 min" }

[[stage]]
id = "rinse"
kind = "rinse"
title = "Rinse"
"""


class Bench:
    """The recorder of a test, and its folder."""

    def __init__(self, folder: DataFolder, files: tuple[Path, Path], eventually: Any) -> None:
        self.folder = folder
        self._files = files
        self.eventually = eventually
        self.recorder: Recorder | None = None

    def begin(self) -> None:
        setup = setup_from_files(self.folder, *self._files)
        self.recorder = Recorder(self.folder, setup, Clock())
        self.recorder.start()

    def end(self) -> None:
        if self.recorder is not None:
            self.recorder.stop()
            self.recorder = None

    def ask(self, do: str, **data: Any) -> Any:
        assert self.recorder is not None
        return self.recorder.answer(do, data)

    def state(self) -> dict[str, Any]:
        return self.ask("state")

    def time_passes(self, by_s: float) -> None:
        """Wait until the run has come so much further."""
        until_s = self.state()["t_s"] + by_s
        self.eventually(lambda: self.state()["t_s"] >= until_s)

    def settled(self) -> dict[str, Any]:
        """Return the state once no correction is being worked out and all acts are seen."""
        self.time_passes(0.6)
        self.eventually(lambda: not self.state()["working_out"])
        return self.state()

    def acts(self) -> dict[str, int]:
        """Return the numbers of what stands, by what it began or else by its kind."""
        rows = self.settled()["acts"]
        return {row["begins"] or row["kind"]: row["event"] for row in rows}

    def view(self, run_id: str) -> RunView:
        return RunView.open(self.folder.run_path(run_id))

    def stages(self, run_id: str) -> list[tuple[str, float]]:
        with self.view(run_id) as view:
            return [(s.id, round(s.start_s, 3)) for s in view.results().stages]

    def same_again(self, run_id: str) -> None:
        """Hold what was saved to what a replay gives, but for what the bench cannot know."""
        with self.view(run_id) as view:
            saved, again = view.results(), judge(view, fats_of(self.folder))[0]
        for table in ("stages", "acts", "immersions", "findings", "notes", "gaps"):
            assert getattr(saved, table) == getattr(again, table), table


@pytest.fixture
def bench(
    tmp_path: Path, bench_files: tuple[Path, Path], eventually: Callable[..., Any]
) -> Iterator[Bench]:
    bench_files[1].write_text(SHEET)
    made = Bench(DataFolder(tmp_path / "data"), bench_files, eventually)
    made.begin()
    yield made
    made.end()


@pytest.fixture(scope="session")
def counting_bench() -> ModelBench:
    """A bench with a probe in the bath."""
    return bench_from_text(
        '[[instrument]]\nid = "p"\nport = "/dev/none"\nshape = "none"\n'
        '[[channel]]\nid = "bath"\ninstrument = "p"\nfield = "t"\nrole = "bath"\n',
        "bench",
    )

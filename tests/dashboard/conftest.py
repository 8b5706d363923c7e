"""For tests of drawing: a recorder and a run file that are not there. For the browser: the demo."""

import io
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from PIL import Image

from logger.model.state import State
from logger.store.run.writer import RunWriter
from tests.dashboard.made_state import FakeClient, FakeRun, bathing, heating
from tests.dashboard.pages import Opener, violations_on
from tests.dashboard.processes import ARTIFACTS, Demo, ScreenProcess


@pytest.fixture
def heat_state() -> State:
    return heating()


@pytest.fixture
def bath_state() -> State:
    return bathing()


@pytest.fixture
def fake_run() -> FakeRun:
    return FakeRun()


@pytest.fixture
def fake_client(heat_state: State) -> FakeClient:
    return FakeClient(heat_state)


# ---- a real browser on the real recorder and the virtual bench ----


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    running = Demo(tmp_path_factory.mktemp("demo"))
    yield running
    running.stop()


@pytest.fixture
def open_screen() -> Iterator[Callable[..., ScreenProcess]]:
    """Return a function that opens a screen on a data folder; all are stopped in the end."""
    screens: list[ScreenProcess] = []

    def opened(folder: Path, port: int = 0) -> ScreenProcess:
        screens.append(ScreenProcess(folder, port))
        return screens[-1]

    yield opened
    for screen in screens:
        screen.stop()


@pytest.fixture
def open_page(browser: Any) -> Iterator[Opener]:
    opener = Opener(browser)
    yield opener
    opener.close()
    assert opener.strayed == []
    assert opener.complaints == []


@pytest.fixture
def violations() -> Callable[[Any], list[str]]:
    """Return a function that lists what axe finds wrong on a page: WCAG 2.2, levels A and AA."""
    return violations_on


@pytest.fixture
def shoot() -> Callable[[Any, str], None]:
    """Return a function that keeps a picture of a page where ``BAINLOG_PICTURES`` is set."""

    def shot(page: Any, name: str) -> None:
        if "BAINLOG_PICTURES" not in os.environ:
            return
        ARTIFACTS.mkdir(exist_ok=True)
        page.screenshot(path=ARTIFACTS / f"{name}.png")

    return shot


class Shelf(NamedTuple):
    """A data folder with ended runs of one product, by their ids."""

    folder: Path
    good: tuple[str, ...]
    bad: str


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    """Four good runs of one virtual batch, the first with photos and notes; one too cold before."""
    from tests.bench.figures.run_files import START_NS, judge, write

    folder = tmp_path_factory.mktemp("shelf")
    good = tuple(f"2026112{day}-0913-a3f{day}" for day in range(4))
    held = judge(1, rate_hz=2.0)
    for place, run_id in enumerate(good):
        write(folder, run_id, held, warmer_k=0.2 * place)
    with RunWriter.reopen(folder / "runs" / f"{good[0]}.run") as file:
        for number, colour in enumerate(("maroon", "olive", "navy"), start=1):
            file.add_photo(_picture(colour), text="cut after an hour on the rack", piece=number)
            file.add_note(f"Piece {number} was tasted cold, and again warm by two of us.")
    bad = "20261124-0913-a3f4"
    day_before_ns = START_NS - 86_400 * 10**9
    too_cold = judge(5, ("water_too_cold",), rate_hz=2.0)
    write(folder, bad, too_cold, started_utc_ns=day_before_ns)
    return Shelf(folder, good, bad)


def _picture(colour: str) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (800, 600), colour).save(file, "JPEG")
    return file.getvalue()


@pytest.fixture(scope="session")
def shelf_screen(shelf: Shelf) -> Iterator[ScreenProcess]:
    """A screen on the shelf of ended runs; no recorder runs."""
    screen = ScreenProcess(shelf.folder)
    yield screen
    screen.stop()

"""A number over the runs of a product is drawn once enough of them were accepted."""

import pytest

from dashboard.learn.control import draw
from dashboard.links import Links
from dashboard.measures import Measures
from logger.model.finding import Finding, Results
from logger.store.run.runfile import RunWriter
from tests.dashboard.pages import text_of
from tests.dashboard.runs.test_handing import write_run

VALUES = (49.0, 50.0, 49.4, 27.2, 48.8)


@pytest.fixture
def links(tmp_path):
    for day, value in enumerate(VALUES):
        run_id = f"20261125-091{day}-a3f2"
        write_run(tmp_path, run_id)
        found = Finding(
            key="heat.water_c", check="water temperature", stage="warm", verdict="met",
            value=value, unit="degC", low=44.0, high=54.0,
        )  # fmt: skip
        with RunWriter.reopen(tmp_path / "runs" / f"{run_id}.run") as file:
            file.set_results(Results(findings=[found]))
            file.set_outcome("rejected" if value < 30 else "accepted")
    return Links(tmp_path)


def test_the_run_that_is_outside_is_named_and_leads_to_its_page(links):
    shown = draw(links, "", Measures())
    assert text_of(shown.title).startswith("Water temperature")
    assert "4 good batches" in text_of(shown.title)
    *_, far = shown.chart
    (way,) = [part for part in far.children if hasattr(part, "href")]
    assert (way.href, text_of(way)[:7]) == ("/runs/20261125-0913-a3f2", "27.2 °C")
    words = getattr(shown.chart[0], "aria-label")
    assert words.startswith("Water temperature of 5 runs: mean 49.3 °C")
    assert words.endswith("1 run outside")


def test_there_is_none_with_too_few_accepted_runs(links, tmp_path):
    for day in (0, 1):
        with RunWriter.reopen(tmp_path / "runs" / f"20261125-091{day}-a3f2.run") as file:
            file.set_outcome(None)
    assert draw(links, "", Measures()) is None

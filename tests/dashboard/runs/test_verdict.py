"""What a run came to: a headline that never claims more than its findings, counts, places."""

from dataclasses import replace

import pytest

from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import GROUNDS
from dashboard.runs import bars, head, ribbon, verdict
from logger.model.finding import Finding, Results
from logger.model.rows import ImmersionRow, StageRow
from logger.review import headline
from logger.review.why.explanation import Cause, Explanation, capital
from logger.review.why.knowledge import builtin_knowledge
from logger.store.folder.entries import RunEntry
from logger.words.shown import AsRecorded
from tests.dashboard.pages import text_of

MET = Finding(
    key="heat.fat_c", check="fat temperature", stage="warm", verdict="met", value=50.0,
    unit="degC", expanded_uncertainty=0.5, low=47.0, high=58.0, channel="fat", from_s=600.0,
)  # fmt: skip
COLD = replace(
    MET, key="heat.water_c", check="water temperature", verdict="not met", value=27.2, low=44.0,
    high=54.0, channel="water", from_s=1185.0, to_s=1190.0,
)  # fmt: skip
CLOSE = replace(MET, verdict="undecided", value=47.2)
FREE = replace(CLOSE, low=None, high=None)
SILENT = replace(MET, verdict="not measured", value=None, expanded_uncertainty=None)
COAT = Finding(
    key="coat.thickness_mm", check="coat thickness", stage="coat", verdict="not met", value=0.41,
    unit="mm", expanded_uncertainty=0.05, low=0.55, high=1.05,
)  # fmt: skip
STAGES = [StageRow(id="warm", kind="heat", title="Melt the fat", start_s=600.0, end_s=1200.0)]


@pytest.mark.parametrize(
    ("findings", "says"),
    [
        ([MET, MET, CLOSE], "No target missed: 2 checks met, 1 too close to call."),
        ([MET, FREE], "No target missed: 1 check met."),
        ([MET, SILENT], "No target missed: 1 check met, 1 not measured."),
        ([SILENT], "No check could be called met: 1 not measured."),
        ([FREE], "No check could be called met: no target was set."),
        ([], "Nothing was judged in this run."),
        ([MET, COLD], "Water temperature too low: 27.2 °C, target 44 to 54 °C."),
        (
            [replace(COAT, piece=1), replace(COAT, piece=2, value=0.48),
             replace(COAT, piece=3, value=0.8, verdict="met")],
            "Coat thickness, 2 of 3 pieces too low: 0.41 to 0.48 mm, target 0.55 to 1.05 mm.",
        ),
        (
            [replace(COLD, key="set.dwell_s", check="dwell", unit="s", value=700.0, low=420.0,
                     high=660.0, expanded_uncertainty=1.0, piece=4)],
            "Dwell, piece 4 too long: 11:40, target 7:00 to 11:00.",
        ),
    ],
)  # fmt: skip
def test_the_headline_says_no_more_than_the_findings(findings, says):
    assert headline.headline(findings, Measures()) == says


def test_a_check_without_a_limit_is_for_information():
    assert headline.counted([FREE, MET, CLOSE, COLD]) == {
        "not met": 1, "too close": 1, "met": 1, "for information": 1,
    }  # fmt: skip
    assert list(headline.counted([FREE, COLD])) == ["not met", "for information"]


def test_a_check_that_was_not_met_has_a_button_that_shows_its_place():
    drawn = str(verdict.draw_missed([COLD], Measures()))
    assert "show at 19:45" in drawn
    assert "'data-from': '1185.000'" in drawn or "data-from='1185.000'" in drawn
    assert "± 0.5 K" in text_of(verdict.draw_missed([COLD], Measures()))


def test_a_rejected_run_with_nothing_missed_takes_its_headline_from_the_cause():
    known = next(m for m in builtin_knowledge() if m.next_time)
    cause = Cause(mechanism=known, score=0.9, rank=0.9, stage="warm", says="", evidence=(), fits=())
    empty = dict.fromkeys(("compared_with", "missing", "limits", "unlike"), ())
    why = Explanation(run="r", outcome="rejected", defects=(), says="", causes=(cause,), **empty)
    entry = RunEntry(run_id="r", outcome="rejected")
    results = Results(findings=[MET])
    said = text_of(head.draw_said(entry, results, why, Measures()))
    met = "No target missed: 1 check met."
    first = f"{capital(known.cause)}. {met} Next time {capital(known.next_time)}"
    assert said.startswith(first)
    without = text_of(head.draw_said(entry, results, None, Measures()))
    assert without == "Rejected. No target missed: 1 check met."


def test_only_a_stage_with_a_check_not_met_is_red_and_names_give_way():
    about = ribbon.behind(Results(findings=[MET, COLD]), STAGES)
    assert about.missed == {"warm"}
    assert [(t.channel, t.from_s, t.to_s) for t in about.targets] == [
        ("fat", 600.0, 900.0), ("water", 900.0, 1200.0),
    ]  # fmt: skip
    axes = {"fat": ("fat", "y"), "water": ("water", "y")}
    red = GROUNDS["light"].stop
    drawn = ribbon.shapes(about, axes, 1300.0, (20.0, 60.0), "light", Measures())
    assert sum(shape.get("fillcolor") == red for shape in drawn) == 1
    good = ribbon.behind(Results(findings=[MET]), STAGES)
    drawn = ribbon.shapes(good, axes, 1300.0, (20.0, 60.0), "light", Measures())
    assert red not in str(drawn)
    wide, short, none = (
        [note["text"] for note in ribbon.names(good, (0.0, end_s), "light")]
        for end_s in (1500.0, 9000.0, 90_000.0)
    )
    assert (wide, short, none) == (["Melt the fat"], ["Heat"], [])
    assert ribbon.names(good, (0.0, 1500.0), "light")[0]["x"] == canvas.x_of(900.0)


def test_a_piece_is_a_bar_against_its_target_with_its_words():
    rows = [
        ImmersionRow(immersion=1, piece=1, in_s=0.0, out_s=500.0, dwell_s=500.0, verdict="met"),
        ImmersionRow(immersion=2, piece=None, in_s=10.0, dwell_s=None),
    ]
    dwell = replace(
        MET, key=bars.DWELL, unit="s", value=500.0, low=420.0, high=660.0, piece=1, verdict="met"
    )
    results = Results(findings=[dwell], immersions=rows)
    text = text_of(bars.draw_pieces(results, Measures()))
    assert "target 7:00 to 11:00" in text
    assert "8:20" in text
    assert "? – still in" in text
    assert bars.draw_pieces(Results(), Measures()) is None


@pytest.mark.parametrize("findings", [[MET, CLOSE], [COLD], [COAT], [SILENT], [FREE]])
def test_a_report_has_the_headline_of_the_page(findings):
    on_page = headline.said_of(findings, "accepted", None, Measures())
    assert headline.said_of(findings, "accepted", None, AsRecorded()) == on_page


def test_the_runs_before_and_after_are_named_by_their_day():
    runs = [RunEntry(run_id=f"r{n}", started_utc_ns=n * 86_400 * 10**9) for n in (3, 2, 1)]
    found = [(way.href, text_of(way)) for way in head.draw_beside(runs, "r2")]
    assert found == [
        ("/runs/r1", "Previous run: 2 Jan 1970"),
        ("/runs/r3", "Next run: 4 Jan 1970"),
    ]
    assert [way.href for way in head.draw_beside(runs, "r3")] == ["/runs/r2"]
    assert head.draw_beside(runs, "other") == []

"""The page of causes: the answer, the remedy at once, evidence among good runs, doubts, others."""

import numpy as np
import pytest

from dashboard.learn.goodband import band_of
from dashboard.learn.grounds import draw_cause, draw_evidence
from dashboard.learn.reasons import Shown, draw_page
from dashboard.learn.shown import Place, event_of
from dashboard.measures import Measures
from dashboard.points import Points
from logger.model.explained.considered import Considered
from logger.model.finding import Finding
from logger.review.why.evidence import Evidence
from logger.review.why.explanation import Cause, Explanation, capital
from logger.review.why.knowledge import Sign, builtin_knowledge
from tests.dashboard.pages import text_of

KNOWN = builtin_knowledge()[0]
COLD = Evidence(
    sign=Sign(what="feature", of="water_at_pour_c", direction="low"),
    strength=0.9,
    kind="limit",
    finding=Finding(
        key="figure.water_at_pour_c", check="water phase temperature at the pour", stage="warm",
        verdict="not met", value=27.2, unit="degC", expanded_uncertainty=0.4, low=44.0, high=54.0,
        from_s=1180.0, to_s=1185.0, evidence="27.2 is cold", channel="water",
    ),
)  # fmt: skip


def cause(proven=True, evidence=()):
    return Cause(
        mechanism=KNOWN,
        score=0.9,
        rank=0.9,
        stage="warm",
        says="Nothing measured explains it.",
        evidence=evidence,
        fits=("grainy",),
        proven=proven,
    )


def explained(**more):
    given = {
        "run": "r", "outcome": "rejected", "defects": ("grainy",), "says": "Most likely.",
        "causes": (cause(evidence=(COLD,)),), "compared_with": ("g1", "g2"), "missing": (),
        "limits": (), "unlike": (),
    }  # fmt: skip
    return Shown(found=Explanation(**(given | more)))


def test_a_cause_is_drawn_with_reason_doubt_advice_and_source():
    drawn = str(draw_cause(cause(), 1))
    for text in (KNOWN.because, f"Wrong if {KNOWN.wrong_if}", KNOWN.next_time, KNOWN.source):
        assert text in drawn
    assert "Nothing measured explains it." in str(draw_cause(cause(proven=False), 1))


def test_the_page_leads_to_the_run_beside_good_ones_where_there_are_any():
    assert "/compare?runs=g1,g2,r" in str(draw_page(explained()))
    alone = text_of(draw_page(explained(compared_with=())))
    assert "no good batch of this product yet" in alone


def test_the_remedy_follows_the_answer_and_the_doubt_follows_the_evidence():
    out = Considered(
        cause="x", title="the fat was cold", fits=(), standing="ruled out", why="54 °C", score=None,
        looked=(),
    )  # fmt: skip
    text = text_of(draw_page(explained(considered=(out,), missing=("the bath",))))
    order = [
        "Most likely.", capital(KNOWN.next_time), "What shows it",
        "target 44 to 54 °C", "27.2 ± 0.4 °C", f"It is wrong if {KNOWN.wrong_if}",
        "Not measured: the bath",
        "score 90 of 100", "The fat was cold: 54 °C",
    ]  # fmt: skip
    places = [text.rindex(part) if part.startswith("score") else text.index(part) for part in order]
    assert places == sorted(places)


def test_a_page_without_a_cause_promises_no_remedy():
    text = text_of(draw_page(explained(causes=(), says="Nothing stands out.")))
    assert "Nothing stands out." in text
    assert "Next time" not in text
    assert "Make it again" not in text


def test_a_number_stands_among_those_of_the_good_runs():
    drawn = draw_evidence(COLD, [], Measures())
    assert "good batches" not in text_of(drawn)
    assert "look-stop" in str(drawn)


def test_a_band_reaches_from_the_lowest_to_the_highest_where_three_have_a_value():
    t_s = np.arange(0.0, 100.0)
    traces = [Points(t_s[: 100 - 20 * k], np.full(100 - 20 * k, 40.0 + k)) for k in range(4)]
    assert band_of(traces[:2]) is None
    band = band_of(traces)
    assert band.runs == 4
    assert (band.low[0], band.high[0]) == (40.0, 43.0)
    assert band.high[-1] == 42.0
    assert band.t_s[-1] == pytest.approx(59.0, abs=2.0)


def test_good_batches_are_lined_up_at_the_event_nearest_to_the_evidence():
    events_s = {"pour": 1200.0, "bath": 2200.0}
    assert event_of([Place(channel="water", from_s=1180.0, to_s=1185.0)], events_s) == "pour"
    assert event_of([Place(channel="bath", from_s=2000.0, to_s=2700.0)], events_s) == "bath"
    assert event_of([], events_s) is None
    assert event_of([Place(channel=None, from_s=0.0, to_s=1.0)], {}) is None

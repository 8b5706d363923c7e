"""The page of causes says why it is believed, what would show it wrong, and what to change."""

from dashboard.learn.reasons import draw_cause, draw_page
from logger.review.why.explanation import Cause, Explanation
from logger.review.why.knowledge import builtin_knowledge

KNOWN = builtin_knowledge()[0]


def cause(proven=True):
    return Cause(mechanism=KNOWN, score=0.9, stage="warm", says="Nothing measured explains it.",
                 evidence=(), fits=("grainy",), proven=proven)  # fmt: skip


def test_a_cause_is_drawn_with_reason_doubt_advice_and_source():
    drawn = str(draw_cause(cause(), 1))
    for text in (KNOWN.because, f"Wrong if {KNOWN.wrong_if}", KNOWN.next_time, KNOWN.source):
        assert text in drawn
    assert "Nothing measured" not in drawn
    assert "Nothing measured explains it." in str(draw_cause(cause(proven=False), 1))


def test_the_page_leads_to_the_run_beside_good_ones_where_there_are_any():
    found = Explanation(
        run="r", outcome="rejected", defects=("grainy",), says="Most likely.", causes=(cause(),),
        compared_with=("g1", "g2"), missing=(), limits=(), unlike=(),
    )  # fmt: skip
    assert "/compare?runs=g1,g2,r" in str(draw_page("r", found))

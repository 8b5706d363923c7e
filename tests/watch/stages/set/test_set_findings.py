"""What is judged of each piece in the bath: values, uncertainties and why not, worked by hand."""

import math

import pytest

from logger.model.written import Band
from logger.watch.stages.set.findings import (
    calcium_findings,
    dwell_finding,
    skin_finding,
    unseen_finding,
)
from logger.watch.stages.set.pieces import Piece
from logger.watch.stages.set.rows import Candidate, Immersion

SHEET = '[sheet]\nname = "R"\n[[stage]]\nid = "skin"\nkind = "set"\n'
BAND = Band(low=360.0, high=720.0, unit="s")
U_EDGES_S = math.sqrt(2.0) * 0.3


class Needed:
    low_s, likely_s, high_s, advised_s, by = 200.0, 300.0, 400.0, 400.0, ""


def piece(share=1.2, **more):
    given = {"number": 1, "piece": 2, "in_s": 100.0, "out_s": 600.0, "dwell_s": 500.0}
    return Piece(row=Immersion(**(given | more)), share=share, left_s=None, needed=None,
                 low_s=360.0, high_s=720.0)  # fmt: skip


@pytest.fixture
def context(make_context):
    return make_context("skin", sheet=SHEET)


def judged(context, one, **more):
    return dwell_finding(context, one, BAND, None, 900_000_000_000, **more)


def test_a_dwell_has_the_doubt_of_both_its_ends(context):
    found = judged(context, piece())
    assert (found.value, found.verdict, found.piece) == (500.0, "met", 2)
    assert found.expanded_uncertainty == pytest.approx(2.0 * U_EDGES_S)
    assert (found.from_s, found.to_s) == (100.0, 600.0)
    by_hand = judged(context, piece(by_hand=True))
    assert by_hand.expanded_uncertainty > found.expanded_uncertainty


def test_a_dwell_that_a_gap_hides_is_the_middle_of_its_interval(context):
    """Rectangular: half its width by the root of three."""
    found = judged(context, piece(dwell_s=None, dwell_between_s=(480.0, 540.0)))
    assert found.value == 510.0
    assert found.expanded_uncertainty == pytest.approx(2.0 * 30.0 / math.sqrt(3.0))


def test_a_dwell_of_an_uncertain_row_is_as_unsure_as_its_candidates(context):
    other = Candidate(piece=3, out_s=700.0, dwell_s=560.0, probability=0.4)
    found = judged(context, piece(ambiguous=True, candidates=(other,)))
    assert found.expanded_uncertainty == pytest.approx(2.0 * 30.0)


@pytest.mark.parametrize(
    ("more", "silent", "why"),
    [
        ({}, False, "still in the bath"),
        ({}, True, "the scale fell silent"),
        ({"at_start": True}, False, "before the recording"),
    ],
)
def test_why_a_dwell_is_not_known_is_said(context, more, silent, why):
    found = judged(context, piece(dwell_s=None, out_s=None, **more), silent=silent)
    assert found.verdict == "not measured"
    assert why in found.evidence
    assert found.to_s == 900.0


@pytest.mark.parametrize(
    ("may_last_s", "dwell_s", "verdict"),
    [
        ((400.0, 700.0), 500.0, "met"),
        ((350.0, 700.0), 500.0, "undecided"),
        ((400.0, 730.0), 500.0, "undecided"),
        ((0.0, math.inf), 500.0, "undecided"),
        ((100.0, 300.0), 200.0, "not met"),
        ((100.0, 800.0), 200.0, "undecided"),  # too short or too long: the reading tells which
        ((800.0, 900.0), 850.0, "not met"),
        (None, 500.0, "met"),
    ],
)
def test_a_verdict_holds_for_every_reading_of_its_row(context, may_last_s, dwell_s, verdict):
    found = judged(context, piece(dwell_s=dwell_s, may_last_s=may_last_s))
    assert found.verdict == verdict
    if verdict == "undecided":
        never = math.isinf(may_last_s[1])
        assert ("it may not have come out" in found.evidence) is never


def skin(context, one, needed=Needed):
    return skin_finding(context, one, needed and needed(), None, "")


def test_the_share_of_a_skin_is_as_unsure_as_the_end_of_its_range_that_could_turn_the_verdict(
    context,
):
    """Through at 300 s, by the long end of the range at 400 s: 120 % is at least 103.9 % then.
    Below 100 % the short end counts, 200 s: 75 % is at most 91.9 %."""
    found = skin(context, piece(share=1.2))
    assert (found.value, found.low) == (pytest.approx(120.0), 100.0)
    assert found.expanded_uncertainty == pytest.approx(120.0 * (1.0 - math.sqrt(300.0 / 400.0)))
    short = skin(context, piece(share=0.75))
    assert short.expanded_uncertainty == pytest.approx(75.0 * (math.sqrt(300.0 / 200.0) - 1.0))
    assert skin(context, piece(share=1.2), None).expanded_uncertainty is None
    assert skin(context, piece(share=None)).value is None
    assert skin(context, piece(dwell_s=None)).evidence.startswith("its dwell is not known")


@pytest.mark.parametrize(
    ("dwell_s", "verdict"),
    [(410.0, "met"), (390.0, "undecided"), (210.0, "undecided"), (190.0, "not met")],
)
def test_a_skin_is_through_from_the_advised_dwell_on_and_not_before_the_shortest(
    make_context, dwell_s, verdict
):
    """The verdict and the advice are of one range, 200 to 400 s."""
    guarded = SHEET.replace("[sheet]", '[sheet]\ndecision_rule = "guarded"', 1)
    one = piece(share=math.sqrt(dwell_s / Needed.likely_s), dwell_s=dwell_s)
    assert skin(make_context("skin", sheet=guarded), one).verdict == verdict


def test_an_uncertain_row_has_the_skin_of_its_shortest_and_longest_dwell(context):
    """Of 500 and 720 s: 120 % and 120 % times the root of 1.44, which is 144 %."""
    other = Candidate(piece=3, out_s=820.0, dwell_s=720.0, probability=0.4)
    found = skin(context, piece(share=1.2, ambiguous=True, candidates=(other,)))
    assert found.expanded_uncertainty == pytest.approx(2.0 * (144.0 - 120.0) / 2.0)


def test_a_hidden_dwell_has_the_skin_between_its_ends(context):
    """100 % at 400 s is 120 % at 576 s: in the middle 110 %."""
    found = skin(context, piece(share=1.0, dwell_s=None, dwell_between_s=(400.0, 576.0)))
    assert found.value == pytest.approx(110.0)
    own = 100.0 * (1.0 - math.sqrt(300.0 / 400.0)) / 2.0
    wanted = 2.0 * math.hypot(own, 10.0 / math.sqrt(3.0))
    assert found.expanded_uncertainty == pytest.approx(wanted)


def test_what_was_not_seen_is_counted(context):
    def why(seen, channel="bath_scale"):
        return unseen_finding(context, seen, 6, BAND, channel, 1).evidence

    assert why(4).startswith("2 of 6 pieces were not seen in the bath")
    assert why(0).startswith("no piece was seen")
    assert why(0, None).startswith("the bench has no bath scale and no piece was entered")


def test_calcium_is_judged_in_percent_with_its_doubt(context):
    """Binding is known to 15 %, the strength to 5 % of its start."""
    wanted, left = calcium_findings(context, 0.9, 0.3, 1, "")
    assert (wanted.value, left.value) == (pytest.approx(30.0), pytest.approx(90.0))
    assert wanted.expanded_uncertainty == pytest.approx(2.0 * 0.15 * 30.0)
    assert left.expanded_uncertainty == pytest.approx(10.0)
    assert (wanted.high, left.low) == (100.0, 80.0)
    none = calcium_findings(context, None, None, 1, "no bath")
    assert [f.verdict for f in none] == ["not measured"] * 2

"""Which pieces show a defect, how surely, and what sets them apart from the others."""

import pytest

from logger.model.finding import Finding
from logger.model.rows import PieceRow
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from logger.review.why.pieces import ALL, LEVEL, QUANTITIES, pieces_told

BURST = (2, 5, 8, 11)


def coat_mm(piece):
    """From 1.12 to 1.29 mm on the pieces that burst, from 0.71 to 0.83 mm on the others."""
    if piece in BURST:
        return {2: 1.12, 5: 1.18, 8: 1.29, 11: 1.21}[piece]
    return 0.71 + 0.02 * ((piece - 1) % 8)


def rows(count=12):
    return tuple(
        PieceRow(piece=k, coat_mm=coat_mm(k), dwell_s=500.0 + 5 * k % 12, bare_mass_g=60.0)
        for k in range(1, count + 1)
    )


def burst(make_run, pieces=BURST, **more):
    of_pieces = dict.fromkeys(pieces, ("skin burst",))
    return make_run(
        "bad",
        outcome="rejected",
        defects=["skin burst"],
        pieces=rows(),
        piece_defects=of_pieces,
        **more,
    )


def test_the_share_has_its_exact_interval_and_the_pieces_their_span(make_run):
    """Clopper and Pearson 1934: 4 of 12 is 10 to 65 %."""
    (told,) = pieces_told(burst(make_run))
    assert (told.pieces, told.of) == (BURST, 12)
    assert told.says.startswith("4 of 12 pieces “skin burst” (10 to 65 %; 2, 5, 8, 11): ")
    assert (
        "coat thickness 1.12 to 1.29 mm compared with 0.71 to 0.83 mm in the others (chance"
        in told.says
    )
    (difference,) = told.differences
    assert (difference.quantity, difference.side) == ("coat_mm", "high")


def test_the_chance_is_exact_and_raised_for_all_that_was_looked_at(make_run):
    """All four above all eight: 2 of 495 deals (rank sum, Wilcoxon 1945), times the four numbers
    that the pieces have (Holm 1979)."""
    (told,) = pieces_told(burst(make_run))
    assert told.differences[0].p == pytest.approx(4 * 2 / 495)


def test_pieces_that_differ_name_the_cause_though_no_limit_and_no_good_run_tells(make_run):
    found = explain(burst(make_run), [], builtin_knowledge())
    assert found.causes[0].mechanism.id == "uneven_coat"
    assert found.causes[0].evidence[0].kind == "pieces"
    assert "4 of 12 pieces “skin burst”" in found.causes[0].evidence[0].finding.evidence
    assert found.by_piece[0].startswith("4 of 12 pieces")
    assert found.as_json()["by_piece"] == list(found.by_piece)


def test_a_cause_is_not_told_by_the_pieces_of_a_defect_that_it_does_not_lead_to(make_run):
    of_pieces = dict.fromkeys(BURST, ("off taste",))
    run = make_run(
        "bad", outcome="rejected", defects=["off taste"], pieces=rows(), piece_defects=of_pieces
    )
    found = explain(run, [], builtin_knowledge())
    assert "uneven_coat" not in {c.mechanism.id for c in found.causes}


def test_one_piece_of_twelve_is_too_few_to_tell_but_what_is_odd_about_it_is_said(make_run):
    (told,) = pieces_told(burst(make_run, pieces=(8,)))
    assert (
        "too few pieces to tell whether by chance: coat thickness 1.29 mm compared with"
        in told.says
    )
    assert min(d.p for d in told.differences) > LEVEL
    found = explain(burst(make_run, pieces=(8,)), [], builtin_knowledge())
    pieces = {e.sign.of for c in found.causes for e in c.evidence if e.kind == "pieces"}
    assert pieces == {ALL}


def test_a_limit_that_only_the_bad_pieces_broke_is_told_by_fisher_s_test(make_run):
    """4 of 4 against 0 of 8: 1 of 495 (Fisher 1935), times five that were looked at."""
    findings = [
        Finding(
            key="coat.thickness_mm",
            check="coat thickness",
            stage="coat",
            piece=k,
            unit="mm",
            value=coat_mm(k),
            high=1.0,
            verdict="not met" if k in BURST else "met",
        )
        for k in range(1, 13)
    ]
    (told,) = pieces_told(burst(make_run, findings=findings))
    first = told.differences[0]
    assert (first.quantity, first.side) == ("coat.thickness_mm", "limit")
    assert first.p == pytest.approx(5 / 495)
    assert "coat thickness beyond its limit in 4 of 4, in 0 of the other 8" in first.says


def test_pieces_alike_in_all_that_was_measured_are_said_to_be(make_run):
    (told,) = pieces_told(burst(make_run, pieces=(1, 3, 8, 12)))
    assert told.differences == ()
    assert told.says.endswith("nothing that was measured sets them apart")


def test_one_piece_far_beyond_the_scatter_of_the_others_is_told_without_a_limit(make_run):
    """Ranks alone can say no more of one of twelve than 2 of 12."""
    pieces = tuple(PieceRow(piece=k, dwell_s=440.0 + 3.0 * k) for k in range(1, 12))
    run = make_run(
        "bad",
        outcome="rejected",
        defects=["skin tough"],
        pieces=(*pieces, PieceRow(piece=12, dwell_s=900.0)),
        piece_defects={12: ("skin tough",)},
    )
    (told,) = pieces_told(run)
    assert not told.alike
    assert [(d.quantity, d.side) for d in told.differences] == [("dwell_s", "high")]
    assert explain(run, [], builtin_knowledge()).causes[0].mechanism.id == "long_dwell"


def soft(make_run, pieces, apart_k=None):
    """`apart_k` is between two core probes; None where there is one."""
    return make_run(
        "bad",
        outcome="rejected",
        defects=["too soft"],
        pieces=rows(),
        piece_defects=dict.fromkeys(pieces, ("too soft",)),
        changed={"core_spread_k": apart_k},
        u={"core_spread_k": 0.3},
        without=() if apart_k else ("core_spread_k",),
    )


def test_pieces_alike_in_all_but_the_defect_point_to_their_place_and_none_was_measured(make_run):
    found = explain(soft(make_run, (6, 7)), [], builtin_knowledge())
    first = found.causes[0]
    assert (first.mechanism.id, first.proven) == ("cold_place_in_pan", False)
    assert (
        "Of what was not measured the likeliest is that some pieces were in a colder" in found.says
    )


def test_a_place_is_no_suspect_where_most_pieces_or_none_were_said(make_run):
    for pieces in ((), range(1, 10)):
        found = explain(soft(make_run, pieces), [], builtin_knowledge())
        assert "cold_place_in_pan" not in {c.mechanism.id for c in found.causes}


def test_a_second_core_probe_that_stays_behind_proves_a_colder_place(make_run):
    run = soft(make_run, (), apart_k=14.0)
    first = explain(run, [], builtin_knowledge()).causes[0]
    assert (first.mechanism.id, first.proven) == ("cold_place_in_pan", True)


def test_a_piece_that_was_never_measured_still_counts(make_run):
    run = make_run("bad", outcome="rejected", piece_defects={3: ("greasy",), 4: ()})
    (told,) = pieces_told(run)
    assert (told.pieces, told.of) == ((3,), 2)


def test_every_quantity_that_the_knowledge_names_is_one_of_a_piece():
    signs = [s for m in builtin_knowledge() for s in m.shows if s.what == "piece"]
    assert {s.of for s in signs} <= {*QUANTITIES, ALL}
    assert {s.of for s in signs} >= {"coat_mm", "dwell_s", "bare_mass_g", ALL}


def test_dwells_are_written_in_whole_seconds(make_run):
    pieces = tuple(PieceRow(piece=k, dwell_s=480.4321 + 30.0 * (k == 2)) for k in range(1, 5))
    run = make_run("bad", outcome="rejected", pieces=pieces, piece_defects={2: ("greasy",)})
    (told,) = pieces_told(run)
    assert "dwell 8 min 30 s compared with 8 min in the others" in told.says

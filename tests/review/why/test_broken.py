"""A broken limit is always evidence: of all pieces together, and never passed over."""

from dataclasses import replace

import numpy as np
import pytest

from logger.model.checks import check_of
from logger.model.finding import Finding
from logger.model.kinds.registry import KINDS
from logger.review.learn.sheets import template
from logger.review.why.broken import broken_limits, near_limits
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from logger.words.labels import check_label
from logger.words.verdicts import evidence_text

KNOWLEDGE = builtin_knowledge()
MORE_STAGES = "\n".join(
    kind.example.strip()
    for kind in KINDS
    if f'kind = "{kind.name}"' not in template().split("# -- Stages")[1] and kind.in_batch
)
SHEET = f"{template()}\n{MORE_STAGES}\n"
BY_PIECE = {"form.piece_g", "coat.mass_g", "coat.thickness_mm", "set.dwell_s", "set.skin_percent"}


def finding(key, stage, value, low, high, *, piece=None, subject=""):
    unit = check_of(key).unit
    out = (low is not None and value < low) or (high is not None and value > high)
    verdict = "not met" if out else "met"
    side = "below" if low is not None and value < low else "above"
    says = evidence_text(verdict, value, unit, u_expanded=None, low=low, high=high, side=side)
    return Finding(
        key=key,
        subject=subject,
        check=check_label(key, subject or "1.0"),
        stage=stage,
        verdict=verdict,
        value=value,
        unit=unit,
        low=low,
        high=high,
        piece=piece,
        evidence=says,
        from_s=10.0,
        to_s=20.0,
    )


def coats(thick, all_of=12):
    """Coats of pieces of 0.8 mm, those named at 1.2 mm and more."""
    return tuple(
        finding(
            "coat.thickness_mm", "coat", 1.2 + 0.01 * k if k in thick else 0.8, 0.5, 1.0, piece=k
        )
        for k in range(1, all_of + 1)
    )


def why(run, good=()):
    return explain(run, good, KNOWLEDGE)


def test_pieces_that_broke_a_limit_are_counted_and_named(make_run):
    run = make_run(outcome="rejected", findings=coats({3, 5, 8, 11}))
    (broken,) = broken_limits(run)
    assert broken.says == (
        "coat thickness: 1.23 to 1.31 mm in 4 of 12 pieces (3, 5, 8, 11); target 0.5 to 1 mm"
    )
    assert (broken.as_finding().value, broken.as_finding().piece) == (1.31, 11)
    assert broken.on("low") is None
    assert broken.on("high") == broken.on("some") == broken


def test_some_means_not_most_unless_pieces_miss_on_both_sides(make_run):
    (most,) = broken_limits(make_run(findings=coats(set(range(1, 9)))))
    assert most.on("some") is None
    thin = finding("coat.thickness_mm", "coat", 0.3, 0.5, 1.0, piece=13)
    (both,) = broken_limits(make_run(findings=(*coats(set(range(1, 12))), thin)))
    assert both.on("some") == both
    assert len(both.on("low").findings) == 1


@pytest.mark.parametrize(
    ("findings", "defect", "cause"),
    [
        (coats({3, 5, 8, 11}), "skin burst", "uneven_coat"),
        (coats(set(range(1, 13))), "skin burst", "thick_coat"),
        (
            (finding("set.dwell_s", "skin", 200.0, 420.0, 660.0, piece=4),),
            "skin too thin",
            "short_dwell",
        ),
        (
            (finding("emulsify.fat_fraction_percent", "combine", 44.0, 30.0, 40.0),),
            "greasy",
            "too_much_fat",
        ),
    ],
)
def test_a_broken_limit_names_its_cause_though_the_mean_is_as_in_the_good_runs(
    make_run, good_runs, findings, defect, cause
):
    run = make_run("bad", outcome="rejected", defects=[defect], findings=findings)
    found = why(run, good_runs)
    assert found.causes[0].mechanism.id == cause
    assert found.says.startswith("Most likely ")
    assert findings[0].check in found.causes[0].evidence[0].finding.evidence


def test_a_limit_from_which_no_known_cause_leads_is_still_named(make_run, good_runs):
    hot = finding("emulsify.emulsion_c", "combine", 58.0, 40.0, 54.0)
    found = why(
        make_run("bad", outcome="rejected", defects=["broken emulsion"], findings=(hot,)), good_runs
    )
    assert found.says.startswith("No known cause of “broken emulsion” was found, but a limit was")
    assert "emulsion temperature: 58.0 °C, above the target of 40 to 54 °C" in found.says
    first = found.causes[0]
    assert (first.mechanism.id, first.stage, first.proven, first.known) == (
        "limit_broken",
        "combine",
        True,
        False,
    )


def test_what_follows_from_other_causes_is_named_only_where_none_of_them_shows(make_run, good_runs):
    """Half of a skin set: too short a dwell explains it, and alone it is an answer of its own."""
    half = finding("set.skin_percent", "skin", 51.0, 90.0, None, piece=2)
    early = finding("set.dwell_s", "skin", 200.0, 420.0, 660.0, piece=2)
    run = make_run("bad", outcome="rejected", defects=["skin too thin"], findings=(half,))
    found = why(run, good_runs)
    assert found.says.startswith("Most likely the skin had not set through when the pieces came")
    both = make_run("bad", outcome="rejected", defects=["skin too thin"], findings=(half, early))
    named = [c.mechanism.id for c in why(both, good_runs).causes]
    assert named[0] == "short_dwell"
    assert "skin_not_set" not in named
    low = make_run(
        "bad", outcome="rejected", defects=["skin too thin"], changed={"set_fraction_percent": 51.0}
    )
    assert why(low, []).causes[0].mechanism.id == "skin_not_set"


def test_a_limit_broken_on_the_side_that_leads_elsewhere_is_no_cause_but_is_said(
    make_run, good_runs
):
    """A dwell too long makes no thin skin."""
    late = finding("set.dwell_s", "skin", 900.0, 420.0, 660.0, piece=2)
    found = why(
        make_run("bad", outcome="rejected", defects=["skin too thin"], findings=(late,)), good_runs
    )
    assert "limit_broken" not in {c.mechanism.id for c in found.causes}
    assert "Limits not met: dwell of piece 2: 15 min" in found.says
    assert "Nothing" not in found.says


def test_limits_broken_in_a_run_of_which_nobody_has_said_how_it_came_out_are_said(
    make_run, good_runs
):
    hot = finding("emulsify.emulsion_c", "combine", 58.0, 40.0, 54.0)
    found = why(make_run("new", outcome=None, findings=(hot,)), good_runs)
    assert found.causes == ()
    assert "Limits not met: emulsion temperature: 58.0 °C" in found.says


def any_findings(rng, sheet, chance):
    """Findings of every check of every stage, each broken with a chance."""
    for stage in sheet.stage:
        kind = next(k for k in KINDS if k.name == stage.kind)
        for check in kind.checks:
            low, high = (1.0, 2.0) if rng.random() < 0.6 else (1.0, None)
            pieces = range(1, 7) if check.key in BY_PIECE else [None]
            for piece in pieces:
                value = 1.5 if rng.random() > chance / len(pieces) else rng.choice([0.5, 2.5])
                yield finding(
                    check.key,
                    stage.id,
                    float(value),
                    low,
                    high,
                    piece=piece,
                    subject="2.0" if check.subject else "",
                )


def test_nothing_explains_is_never_said_while_a_limit_of_a_stage_behind_the_defect_is_broken(
    make_run, good_runs
):
    """Over drawn results: any limits broken, any defects, lots changed, with good runs or none."""
    rng = np.random.default_rng(11)
    sheet = make_run(text=SHEET).sheet
    behind = {d: {m.stage for m in KNOWLEDGE if d in m.leads_to} for d in sheet.sheet.defects}
    told = {"unproven": 0, "alone": 0, "behind": 0, "nothing": 0}
    for _ in range(150):
        findings = tuple(any_findings(rng, sheet, rng.choice([0.01, 0.04, 0.2])))
        defects = [str(d) for d in rng.choice(sheet.sheet.defects, size=2, replace=False)]
        run = make_run(
            "bad",
            seed=int(rng.integers(10**6)),
            outcome="rejected",
            defects=defects,
            findings=findings,
            text=SHEET,
        )
        found = why(run, good_runs if rng.random() < 0.3 else ())
        kinds = {s.id: s.kind for s in sheet.stage}
        broken = {kinds[f.stage] for f in findings if f.verdict == "not met"}
        for defect in defects:
            denied = any(
                f"“{defect}”" in text and text.startswith(("Nothing", "That does not"))
                for text in found.says.split(". ")
            )
            led = bool(broken & behind[defect])
            assert not (led and denied), found.says
            told["behind"] += led
            told["nothing"] += denied
        assert not (broken and found.says.startswith("Nothing is outside")), found.says
        told["unproven"] += bool(found.causes) and not found.causes[0].proven
        told["alone"] += any(not c.known for c in found.causes)
    assert min(told.values()) >= 10, told  # all ways of saying it were gone through


def test_a_limit_almost_surely_broken_by_most_pieces_counts_a_little(make_run):
    """Coats of 1.05 ± 0.1 mm against at most 1 mm: no verdict, but no reason for trust either."""
    unsure = [replace(f, verdict="undecided", value=1.05) for f in coats(set())]
    found = why(make_run("bad", outcome="rejected", defects=["skin burst"], findings=unsure))
    named = {c.mechanism.id: c for c in found.causes}
    assert named["thick_coat"].evidence[0].finding.verdict == "undecided"
    assert named["thick_coat"].score < 0.5
    few = why(
        make_run(
            "bad",
            outcome="rejected",
            defects=["skin burst"],
            findings=unsure[:5] + list(coats(set()))[5:],
        )
    )
    assert "thick_coat" not in {c.mechanism.id for c in few.causes}


def test_a_limit_of_each_piece_is_no_limit_of_a_mean(make_run):
    """Mean coat 0.6 mm of pieces from 0.3 to 1.1 mm: the mean says nothing about the limit."""
    for name, feature in make_run().features.items():
        if feature.spec.judged_by in BY_PIECE and "mean" in feature.spec.label:
            assert feature.spec.target is None, name


def test_pieces_that_broke_a_limit_are_one_finding_over_the_time_of_all(make_run):
    thick = [replace(f, from_s=100.0 * f.piece, to_s=100.0 * f.piece + 30.0)
             for f in coats({3, 5, 8})]  # fmt: skip
    (broken,) = broken_limits(make_run(findings=tuple(thick)))
    found = broken.as_finding()
    assert (found.piece, found.from_s, found.to_s) == (8, 300.0, 830.0)
    (untimed,) = broken_limits(
        make_run(findings=tuple(replace(f, from_s=None, to_s=None) for f in thick))
    )
    assert (untimed.as_finding().from_s, untimed.as_finding().to_s) == (None, None)


@pytest.mark.parametrize(("thick", "most"), [(6, False), (7, True)])
def test_most_pieces_are_more_than_half(make_run, thick, most):
    (broken,) = broken_limits(make_run(findings=coats(set(range(1, thick + 1)))))
    assert broken.most is most
    assert (broken.on("some") is None) is most


@pytest.mark.parametrize(("beyond", "near"), [(6, 0), (7, 1)])
def test_a_limit_is_near_where_more_than_half_of_the_pieces_are_beyond_it(make_run, beyond, near):
    """Coats of 1.05 ± 0.1 mm against at most 1 mm."""
    unsure = [replace(f, verdict="undecided", value=1.05 if f.piece <= beyond else 0.95)
              for f in coats(set())]  # fmt: skip
    found = near_limits(make_run(findings=tuple(unsure)))
    assert [len(b.findings) for b in found] == [beyond] * near

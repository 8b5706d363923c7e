"""Causes are ranked by evidence that is shown; what cannot be told is said."""

import json
import math
from dataclasses import replace

import pytest

from logger.model.finding import Finding
from logger.model.rows import GapRow
from logger.review.features.feature import BY_NAME, Feature
from logger.review.learn.sheets import template
from logger.review.why.explain import explain, witness_of
from logger.review.why.explain import shown_by as shown_of_causes
from logger.review.why.knowledge import builtin_knowledge

KNOWLEDGE = builtin_knowledge()


def why(run, good):
    return explain(run, good, KNOWLEDGE)


@pytest.mark.parametrize(
    ("changed", "defect", "cause"),
    [
        ({"fat_at_pour_c": 35.5, "fat_highest_c": 35.6, "fat_above_water_k": -14.0}, "grainy",
         "fat_too_cool"),
        ({"water_at_pour_c": 26.0, "fat_above_water_k": 27.0}, "broken emulsion",
         "water_too_cold"),
        ({"pour_rate_g_min": 380.0}, "broken emulsion", "pour_too_fast"),
        ({"probes_apart_k": 4.0, "fat_probe_apart_k": 0.1}, "broken emulsion", "probe_swapped"),
        ({"probes_apart_k": 4.0}, "broken emulsion", "bowl_probe_off"),
        ({"fat_fraction_percent": 43.0}, "greasy", "too_much_fat"),
        ({"dwell_shortest_s": 210.0}, "skin too thin", "short_dwell"),
        ({"dwell_longest_s": 1000.0}, "skin tough", "long_dwell"),
        ({"bath_c": 3.5, "set_fraction_percent": 80.0}, "skin too thin", "cold_bath"),
        ({"coat_mm": 1.3, "set_fraction_percent": 60.0}, "skin too thin", "thick_coat"),
        ({"coat_spread_percent": 45.0}, "skin burst", "uneven_coat"),
        ({"hydrate_s": 90.0}, "leaking", "short_hydration"),
        ({"melting_plateau_c": 27.8}, "too soft", "another_fat"),
        ({"bath_start_g": 2570.0}, "skin too thin", "bath_exhausted"),
    ],
)  # fmt: skip
def test_the_cause_that_shows_is_named_first(make_run, good_runs, changed, defect, cause):
    run = make_run("bad", seed=1, outcome="rejected", defects=[defect], changed=changed)
    found = why(run, good_runs)
    assert found.causes[0].mechanism.id == cause
    first = found.causes[0]
    assert first.proven
    assert first.evidence[0].finding.value is not None
    assert first.evidence[0].finding.expanded_uncertainty > 0
    assert first.fits == (defect,)
    assert first.mechanism.wrong_if
    assert first.mechanism.next_time


def shown_by(run, good):
    found = [e.finding for c in why(run, good).causes for e in c.evidence]
    return {f.key: f for f in found}


def test_a_number_of_unknown_uncertainty_proves_nothing(make_run, good_runs):
    """Neither against the sheet nor against the good runs, however far out it lies."""
    far_out = {"outcome": "rejected", "defects": ["grainy"], "changed": {"fat_at_pour_c": 35.5}}
    for good in ([], good_runs):
        known = make_run("bad", **far_out)
        assert "figure.fat_at_pour_c" in shown_by(known, good)
        unknown = make_run("bad", u={"fat_at_pour_c": math.nan}, **far_out)
        found = why(unknown, good)
        assert not any(
            c.proven and any(e.finding.key == "figure.fat_at_pour_c" for e in c.evidence)
            for c in found.causes
        )
        one = shown_by(unknown, good).get("figure.fat_at_pour_c")
        assert one is None or one.verdict == "undecided"


@pytest.mark.parametrize("assumed", [False, True])
def test_evidence_from_an_assumed_uncertainty_is_marked(make_run, good_runs, assumed):
    judged = Finding(
        key="heat.fat_c", check="", stage="warm", verdict="met", channel="x", assumed=assumed
    )
    grainy = make_run(
        "bad",
        outcome="rejected",
        defects=["grainy"],
        changed={"fat_at_pour_c": 35.5},
        findings=(judged,),
    )
    assert shown_by(grainy, good_runs)["figure.fat_at_pour_c"].assumed == assumed
    thin = make_run(
        "bad",
        outcome="rejected",
        defects=["skin too thin"],
        changed={"dwell_shortest_s": 210.0},
        findings=(judged,),
    )
    assert not shown_by(thin, good_runs)["figure.dwell_shortest_s"].assumed, "a time"


def test_a_limit_alone_is_evidence_without_any_good_run(make_run):
    run = make_run("bad", outcome="rejected", defects=["grainy"], changed={"fat_at_pour_c": 35.5})
    found = why(run, [])
    assert found.causes[0].mechanism.id == "fat_too_cool"
    assert found.causes[0].evidence[0].kind == "limit"
    assert found.compared_with == ()
    assert any("nothing is claimed" in m for m in found.missing)


def test_within_the_limits_three_good_runs_are_needed(make_run, good_runs):
    """48.5 degC lies in the sheet's 47 to 58, but 4.5 K below the good runs."""
    changed = {"fat_at_pour_c": 47.8, "fat_highest_c": 48.0}
    run = make_run("bad", outcome="rejected", defects=["grainy"], changed=changed)
    assert "fat_too_cool" not in {c.mechanism.id for c in why(run, good_runs[:2]).causes}
    found = why(run, good_runs)
    assert found.causes[0].mechanism.id == "fat_too_cool"
    assert found.causes[0].evidence[0].kind == "unlike"
    assert any("°C is low; 8 good batches: about" in text for text in found.unlike)
    assert len(found.unlike) == 2, "both temperatures of the fat, and nothing that is as usual"


def test_an_accepted_run_is_not_accused_even_with_a_limit_broken(make_run, good_runs):
    run = make_run("good", changed={"fat_at_pour_c": 44.0})
    found = why(run, good_runs)
    assert found.causes == ()
    assert "accepted" in found.says


def test_good_runs_whose_outcome_nobody_said_are_seldom_accused(make_run, good_runs):
    accused = sum(
        bool(why(make_run(f"g{i}", seed=900 + i, outcome=None), good_runs).causes)
        for i in range(100)
    )
    assert accused <= 5


def test_two_causes_are_both_among_the_first_three(make_run, good_runs):
    changed = {"fat_at_pour_c": 35.5, "fat_highest_c": 35.5, "dwell_shortest_s": 200.0}
    run = make_run("bad", outcome="rejected", defects=["grainy", "skin too thin"], changed=changed)
    first = {c.mechanism.id for c in why(run, good_runs).causes[:3]}
    assert {"fat_too_cool", "short_dwell"} <= first
    says = why(run, good_runs).says
    assert says.startswith("Most likely ")
    assert " For “" in says


def test_a_defect_that_the_first_cause_leaves_open_is_said_to_be_open(make_run, good_runs):
    run = make_run("bad", outcome="rejected", defects=["grainy", "skin tough"],
                   changed={"fat_at_pour_c": 35.5, "fat_highest_c": 35.5})  # fmt: skip
    assert "That does not explain “skin tough”" in why(run, good_runs).says


def test_nobody_is_accused_before_anybody_said_how_it_came_out(make_run, good_runs):
    run = make_run("new", outcome=None, changed={"fat_at_pour_c": 35.5, "fat_highest_c": 35.5})
    assert why(run, good_runs).says.startswith("Nobody has said yet how it came out. If it failed")


def test_a_defect_that_nothing_measured_explains_names_what_was_not_measured(make_run, good_runs):
    run = make_run("bad", outcome="rejected", defects=["skin too thin"])
    found = why(run, good_runs)
    assert not found.causes[0].proven
    assert {"bath_exhausted", "hydrate_mistaken"} <= {c.mechanism.id for c in found.causes}
    assert {"short_dwell", "cold_bath"}.isdisjoint(c.mechanism.id for c in found.causes)
    assert "; or the calcium bath was old" in found.says
    assert any("hydrate" in m for m in found.missing)


def test_a_cause_of_which_nothing_was_measured_stays_a_suspect_beside_the_unseen(
    make_run, good_runs
):
    without = ("dwell_shortest_s", "dwell_mean_s", "dwell_longest_s")
    run = make_run("bad", outcome="rejected", defects=["skin too thin"], without=without)
    found = why(run, good_runs)
    named = {c.mechanism.id: c for c in found.causes}
    assert not named["short_dwell"].proven
    assert "cold_bath" not in named
    assert any(m.startswith("shortest dwell") for m in found.missing)


def test_a_new_lot_of_the_salt_makes_the_salt_the_first_suspect(make_run, good_runs):
    text = template().replace('name = "calcium chloride"', 'name = "calcium chloride"\nlot = "LOT"')
    good = [
        make_run(g.run_id, seed=i, text=text.replace("LOT", "CC-1"))
        for i, g in enumerate(good_runs)
    ]
    run = make_run(
        "bad", outcome="rejected", defects=["skin too thin"], text=text.replace("LOT", "CC-2")
    )
    found = why(run, good)
    assert found.causes[0].mechanism.id == "hydrate_mistaken"
    assert "CC-2" in found.causes[0].evidence[0].finding.evidence
    assert "the likeliest is that the calcium salt or its hydrate" in found.says
    assert "lot CC-2; the good batches had lot CC-1" in found.says


def test_two_causes_that_show_alike_are_not_told_apart(make_run, good_runs):
    changed = {"dwell_shortest_s": 200.0, "bath_c": 3.5}
    run = make_run("bad", outcome="rejected", defects=["skin too thin"], changed=changed)
    assert "does not single out a cause" in why(run, good_runs).says


def test_a_number_from_a_silent_channel_is_doubted(make_run, good_runs):
    gaps = (GapRow(channel="x", from_s=12.0, to_s=18.0, why="stuck"),)
    changed = {"bath_c": 3.5}
    sure = make_run("a", outcome="rejected", defects=["skin too thin"], changed=changed)
    faulty = make_run(
        "b", outcome="rejected", defects=["skin too thin"], changed=changed, gaps=gaps
    )
    one, other = (why(r, good_runs) for r in (sure, faulty))
    assert other.causes[0].score < one.causes[0].score - 0.05
    assert "sensors are more likely at fault" in other.says
    assert "doubtful" in other.causes[0].evidence[0].finding.evidence
    told, doubted = (
        shown_of_causes(KNOWLEDGE, witness_of(r, good_runs, KNOWLEDGE)) for r in (sure, faulty)
    )
    assert not any(shown.doubtful for shown in told.values())
    assert doubted["cold_bath"].doubtful
    assert not doubted["thick_coat"].strength
    assert not doubted["thick_coat"].doubtful, "nothing shows it that could be doubted"


def test_a_sensor_that_was_never_checked_is_said_beside_what_hangs_on_it(make_run, good_runs):
    run = make_run("bad", outcome="rejected", defects=["skin too thin"], changed={"bath_c": 3.5},
                   unchecked={"x": "Bath: never checked", "y": "Core: never checked"})  # fmt: skip
    missing = why(run, good_runs).missing
    assert "whether the sensor read right (Bath: never checked)" in missing
    assert not any("Core" in text for text in missing)


def test_water_that_reads_cold_but_leaves_the_emulsion_warm_points_to_the_probe(
    make_run, good_runs
):
    """Water at 26 degC would have cooled the mixture by 18 K; it came out as warm as usual."""
    changed = {"water_at_pour_c": 26.0, "fat_above_water_k": 27.0, "mix_miss_k": 15.5}
    run = make_run("bad", outcome="rejected", defects=["broken emulsion"], changed=changed)
    found = why(run, good_runs)
    assert found.causes[0].mechanism.id == "probe_off"
    assert "sensors are more likely at fault" in found.says
    changed["mix_miss_k"] = -0.5
    run = make_run("bad", outcome="rejected", defects=["broken emulsion"], changed=changed)
    assert why(run, good_runs).causes[0].mechanism.id == "water_too_cold"


@pytest.mark.parametrize(
    ("changed", "defect", "cause"),
    [
        ({"probes_apart_k": 3.3, "fat_probe_apart_k": 0.1}, "broken emulsion", "probe_swapped"),
        ({"coat_spread_percent": 44.0}, "skin burst", "uneven_coat"),
    ],
)
def test_what_the_sheet_sets_no_limit_for_has_an_ordinary_one(make_run, changed, defect, cause):
    """Common practice, no source: two probes in one bowl within 1 K, coats within 25 %."""
    run = make_run("bad", outcome="rejected", defects=[defect], changed=changed)
    first = why(run, []).causes[0]
    assert first.mechanism.id == cause
    evidence = first.evidence[0].finding
    assert "; usually at most " in evidence.evidence
    assert (evidence.verdict, evidence.source) == ("not met", "common practice, no source")


def test_an_ordinary_limit_that_good_runs_go_beyond_accuses_nobody(make_run):
    """Coats of this kitchen always spread by 40 %."""
    good = [make_run(f"g{i}", seed=i, changed={"coat_spread_percent": 38.0 + i}) for i in range(5)]
    run = make_run(
        "bad", outcome="rejected", defects=["skin burst"], changed={"coat_spread_percent": 41.0}
    )
    assert "uneven_coat" not in {c.mechanism.id for c in why(run, good).causes}


def test_a_swapped_probe_and_a_wrong_one_are_not_told_apart_without_the_fat_probe(
    make_run, good_runs
):
    run = make_run(
        "bad",
        outcome="rejected",
        defects=["broken emulsion"],
        changed={"probes_apart_k": 4.0},
        without=("fat_probe_apart_k",),
    )
    says = why(run, good_runs).says
    assert says.startswith("The evidence does not single out a cause: the fat and water probes")
    assert "the water or the emulsion probe read wrong" in says


def test_a_lesser_sign_does_not_rule_out_a_cause_whose_telling_sensor_is_missing(
    make_run, good_runs
):
    """No coat was weighed; that the pieces going in weighed as usual does not clear the coat."""
    without = ("coat_mm", "coat_thinnest_mm", "coat_thickest_mm", "coat_spread_percent")
    run = make_run("bad", outcome="rejected", defects=["skin burst"], without=without)
    found = why(with_piece_in(run), [with_piece_in(g) for g in good_runs])
    named = {c.mechanism.id: c for c in found.causes}
    assert not named["thick_coat"].proven
    assert any(m.startswith("whether the alginate coat was too thick") for m in found.missing)
    whole = make_run("bad", outcome="rejected", defects=["skin burst"])
    found = why(with_piece_in(whole), [with_piece_in(g) for g in good_runs])
    assert "thick_coat" not in {c.mechanism.id for c in found.causes}


def with_piece_in(run):
    """The same run with the mean mass of the pieces going in, as in all of them."""
    mass = Feature(spec=BY_NAME["piece_in_g"], stage="skin", value=70.0, u=0.2)
    return replace(run, features={**run.features, "piece_in_g": mass})


def test_defects_that_nothing_is_known_of_tell_nothing_apart(make_run, good_runs):
    changed = {"pour_rate_g_min": 380.0}
    known = make_run("a", outcome="rejected", defects=["skin tough"], changed=changed)
    new = make_run("b", outcome="rejected", defects=["turned blue"], changed=changed)
    assert why(known, good_runs).causes[0].score < 0.5 < why(new, good_runs).causes[0].score


def test_what_cannot_be_negative_is_not_said_to_lie_below_nought(make_run, good_runs):
    """Spreads of 4 ± 1 % leave a next good one between -1 and 9 %."""
    changed = {"coat_spread_percent": 45.0}
    run = make_run("bad", outcome="rejected", defects=["skin burst"], changed=changed)
    says = why(run, good_runs[:3]).causes[0].evidence[0].finding.evidence
    assert "(typical 0.0 to " in says


def test_an_unknown_uncertainty_breaks_no_limit(make_run):
    changed, u = {"fat_at_pour_c": 46.0}, {"fat_at_pour_c": float("nan")}
    run = make_run("bad", outcome="rejected", defects=["grainy"], changed=changed, u=u)
    found = [c for c in why(run, []).causes if c.mechanism.id == "fat_too_cool"]
    assert found == [] or found[0].evidence[0].finding.verdict == "undecided"


def test_what_was_not_measured_and_would_decide_is_listed(make_run, good_runs):
    run = make_run("bad", outcome="rejected", defects=["skin too thin"], without=("bath_c",))
    assert any(m.startswith("bath temperature") for m in why(run, good_runs).missing)


def test_a_cause_that_does_not_lead_to_what_came_out_ranks_behind_one_that_does(
    make_run, good_runs
):
    changed = {"rinse_s": 110.0, "pour_rate_g_min": 380.0, "dwell_shortest_s": 380.0}
    run = make_run("bad", outcome="rejected", defects=["skin too thin"], changed=changed)
    found = why(run, good_runs)
    assert found.causes[0].mechanism.id == "short_dwell"
    assert "pour_too_fast" in {c.mechanism.id for c in found.causes}


def test_an_explanation_is_json_with_the_keys_of_the_contract(make_run, good_runs):
    run = make_run("bad", outcome="rejected", defects=["grainy"], changed={"fat_at_pour_c": 35.0})
    found = json.loads(json.dumps(why(run, good_runs).as_json()))
    assert {"run", "causes", "compared_with", "missing"} <= set(found)
    assert {"cause", "score", "stage", "says", "evidence"} <= set(found["causes"][0])
    assert {"check", "verdict", "value", "expanded_uncertainty", "from_s", "evidence"} <= set(
        found["causes"][0]["evidence"][0]
    )
    assert found["compared_with"] == [g.run_id for g in good_runs]

"""Runs side by side: differences first, effects only where they can be told."""

import json

import pytest

from logger.review.compare.compare import anchor_s, compare, substitutions
from logger.review.compare.effects import TOO_FEW
from logger.review.learn.sheets import template

LONGER = template().replace('dwell = { low = "6 min"', 'dwell = { low = "8 min"')
SHEA = template().replace('fat = "cocoa_butter"', 'fat = "shea_butter"')


def trial(make_run, text, count, first, **changed):
    return [
        make_run(f"{first}{i}", seed=first + i, text=text, changed={
            name: value + 0.1 * i for name, value in changed.items()
        })
        for i in range(count)
    ]  # fmt: skip


def test_one_change_at_a_time_is_named_and_its_effect_is_exact(make_run):
    runs = trial(make_run, template(), 4, 100) + trial(
        make_run, LONGER, 4, 200, set_fraction_percent=60.0
    )
    found = compare(runs)
    assert [g[0] for g in found.groups] == [
        "as the first", "stage skin, dwell 6 to 12 min → 8 to 12 min",
    ]  # fmt: skip
    row = next(e for e in found.effects if e.name == "set_fraction_percent")
    assert row.effect.says == "lower"
    assert row.effect.p == pytest.approx(2 / 70)
    assert row.says.startswith("lower: shift −")
    assert row.says.endswith("; chance 3 % if the change did nothing)")
    assert found.says.startswith("One change: stage skin, dwell")


def test_three_against_three_is_told_to_be_too_few(make_run):
    runs = trial(make_run, template(), 3, 1) + trial(make_run, LONGER, 3, 50, bath_c=3.0)
    found = compare(runs)
    assert found.says.endswith("Too few runs to tell its effect.")
    row = next(e for e in found.effects if e.name == "bath_c")
    assert row.says == f"{TOO_FEW}: 3 in the first group, 3 in the other"
    assert row.effect.low is None


def test_two_changes_at_once_are_told_to_be_two(make_run):
    both = LONGER.replace('mass = "180 g"', 'mass = "200 g"')
    found = compare(trial(make_run, template(), 4, 1) + trial(make_run, both, 4, 50))
    assert "2 changes made together" in found.says


def test_runs_of_one_sheet_have_no_effect_to_show(make_run):
    found = compare(trial(make_run, template(), 4, 1))
    assert found.effects == ()
    assert found.says.startswith("The sheets have the same content")


def test_lots_alone_make_groups_only_when_nothing_else_differs(make_run):
    lot = template().replace('lot = ""', 'lot = "CB-2"', 1)
    found = compare(trial(make_run, template(), 4, 1) + trial(make_run, lot, 4, 50))
    assert found.groups[1][0] == "cocoa butter, lot none → CB-2"
    longer = LONGER.replace('lot = ""', 'lot = "CB-2"', 1)
    found = compare(trial(make_run, template(), 4, 1) + trial(make_run, longer, 4, 50))
    assert found.groups[1][0].startswith("stage skin, dwell")
    assert [c.where for c in found.changes[-1]] == ["stage skin: dwell"], "a lot is a fact"
    assert [(s.group, s.before, s.after) for s in found.swaps[-1]] == [
        ("lot of fat", "none", "CB-2")
    ]


def test_what_the_pieces_weighed_is_no_change_of_the_sheet(make_run):
    def weighed(text, *masses):
        listed = ", ".join(f'"{mass} g"' for mass in masses)
        return text.replace("stirred = true", f"piece_masses = [{listed}]\nstirred = true")

    one, other = weighed(template(), *range(60, 66)), weighed(template(), *range(70, 76))
    assert one != other
    found = compare([make_run("a", text=one), make_run("b", text=other)])
    assert found.changes == ((),)
    assert len(found.groups) == 1
    assert found.says.startswith("The sheets have the same content")
    longer = weighed(LONGER, *range(70, 76))
    found = compare([make_run("a", text=one), make_run("b", text=longer)])
    assert [c.where for c in found.changes[0]] == ["stage skin: dwell"]


def test_the_share_accepted_is_fishers_test(make_run):
    bad = [make_run(f"b{i}", seed=i, text=LONGER, outcome="rejected") for i in range(4)]
    found = compare(trial(make_run, template(), 4, 1) + bad)
    row = next(e for e in found.effects if e.name == "accepted")
    assert row.effect.p == pytest.approx(2 / 70)


def test_another_fat_is_a_substitution(make_run):
    found = substitutions(make_run(), make_run(text=SHEA))
    assert [(s.group, s.before, s.after) for s in found] == [("fat", "cocoa_butter", "shea_butter")]
    beside = compare([make_run(), make_run(text=SHEA), make_run()])
    assert [len(swaps) for swaps in beside.swaps] == [1, 0]


def test_runs_are_laid_over_each_other_by_an_event(make_run):
    run = make_run()
    assert anchor_s(run, "start") == 0.0
    assert anchor_s(run, "pour") == 10.0
    assert anchor_s(make_run(without=("pour_rate_g_min",)), "pour") is None
    assert anchor_s(run, "bath") == 10.0
    unclear = make_run(without=("dwell_shortest_s", "dwell_longest_s"))
    assert anchor_s(unclear, "bath") == 10.0


def test_a_number_that_one_run_lacks_stays_empty(make_run):
    found = compare([make_run("a"), make_run("b", without=("bath_c",))])
    row = next(r for r in found.rows if r.name == "bath_c")
    assert row.values[1] is None
    assert json.loads(json.dumps(found.as_json()))["runs"] == ["a", "b"]

"""Several runs with one defect: points, intervals, and the run that is unlike the others."""

from logger.review.why.explain import explain
from logger.review.why.group import group_of
from logger.review.why.knowledge import builtin_knowledge
from tests.review.conftest import make

GOOD = [make(f"good {i}", seed=i) for i in range(8)]


def grainy(name, seed, **changed):
    return make(name, seed=seed, outcome="rejected", defects=("grainy",), changed=changed)


def grouped(runs):
    each = [explain(run, GOOD, builtin_knowledge()) for run in runs]
    return group_of(runs, GOOD, each)


def number(found, name):
    return next(n for n in found.numbers if n.name == name)


def test_the_run_with_another_cause_is_far_off_though_the_mean_hides_it():
    runs = [grainy(f"cool {i}", 20 + i, fat_at_pour_c=38.0 + 0.3 * i) for i in range(5)]
    runs.append(grainy("cold water", 30, water_at_pour_c=30.0))
    found = grouped(runs)
    assert found.defects == ("grainy",)
    assert found.far_off == ("cold water",)
    assert [c.cause for c in found.causes] == ["fat_too_cool", "water_too_cold"]
    fat = number(found, "fat_at_pour_c")
    assert [p.run for p in fat.points if p.far_off] == ["cold water"]
    assert [p.value for p in fat.points][:2] == [38.0, 38.3]
    assert "Far from the others in the group: cold water." in found.says


def test_what_all_share_is_distinguished_from_the_good_runs_by_exact_ranks():
    """5 below 8: 2 of 1287 deals (Wilcoxon 1945), times the numbers that were looked at (Holm)."""
    found = grouped([grainy(f"cool {i}", 20 + i, fat_at_pour_c=38.0 + 0.3 * i) for i in range(5)])
    fat = number(found, "fat_at_pour_c")
    assert fat.p == 2.0 / 1287.0 * len(found.numbers)
    assert found.numbers[0].name == "fat_at_pour_c"
    assert fat.low < 38.0 < 39.2 < fat.high < fat.good_low < 53.0 < fat.good_high
    assert found.far_off == ()


def test_two_runs_have_points_and_no_interval():
    found = grouped([grainy("one", 20, fat_at_pour_c=38.0), grainy("two", 21, fat_at_pour_c=45.0)])
    fat = number(found, "fat_at_pour_c")
    assert (fat.low, fat.high, fat.median) == (None, None, None)
    assert [(p.value, p.p, p.far_off) for p in fat.points] == [
        (38.0, None, False), (45.0, None, False),
    ]  # fmt: skip

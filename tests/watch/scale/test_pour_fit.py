"""Which changes that may have been poured fit with what there was, at the edges of each rule."""

import math

import pytest

from logger.watch.scale.change import Change
from logger.watch.scale.pour_fit import fitting, sum_g
from logger.watch.scale.pour_hands import Plan
from logger.watch.scale.pour_seen import Part, meanwhile_g


def part(at_s, by_g, role="poured", *, gap=False, lasts_s=2.0, **more):
    change = Change(start_s=at_s, end_s=at_s + lasts_s, before_g=0.0, after_g=by_g,
                    u_before_g=0.05, u_after_g=0.05, took_s=lasts_s, gap=gap)  # fmt: skip
    return Part(**({"change": change, "role": role, "by_g": by_g, "counted": True} | more))


def open_part(at_s, by_g, **more):
    return part(at_s, by_g, sure=False, counted=False, **more)


def test_the_sum_has_what_is_counted_and_small_things_between():
    small = part(20, 0.4, "small", counted=False)
    parts = [part(10, 50.0), small, part(30, 40.0), part(50, 0.3, "small", counted=False)]
    assert sum_g(parts) == pytest.approx(90.4)
    assert sum_g([small]) == 0.0
    assert sum_g([part(10, 50.0), part(20, 9.0, "thing", counted=False), part(30, 1.0)]) == 51.0


def counted(found):
    return [p.by_g for p in found if p.counted]


def test_open_parts_count_where_they_bring_the_sum_nearest_to_what_there_was():
    plan = Plan(there_g=180.0)
    found = fitting([part(10, 100.0), open_part(30, 80.0), open_part(50, 30.0)], plan, {})
    assert counted(found) == [100.0, 80.0]
    assert found[2].role == "thing"
    both = fitting([part(10, 70.0), open_part(30, 80.0), open_part(50, 30.0)], plan, {})
    assert counted(both) == [70.0, 80.0, 30.0]
    alone = fitting([open_part(30, 80.0), open_part(50, 30.0)], Plan(), {})
    assert counted(alone) == [80.0, 30.0], "where nothing is sure and nothing known, all may be"
    beside = fitting([part(10, 70.0), open_part(30, 80.0)], Plan(), {})
    assert counted(beside) == [70.0]


@pytest.mark.parametrize(
    ("sure_g", "open_g", "asked"),
    [
        (153.0, 60.0, False),  # 0.85 of 180 are in, 33 too much: it cannot have been poured
        (152.0, 60.0, True),  # not yet so much
        (170.0, 31.0, True),  # 21 too much is less than 0.12 of 180
        (170.0, 32.0, False),
    ],
)
def test_what_there_was_not_cannot_have_been_poured(sure_g, open_g, asked):
    flow = part(10, sure_g, flows=True, lasts_s=60.0)
    found = fitting([flow, open_part(100, open_g)], Plan(there_g=180.0), {})
    assert (not found[1].sure) is asked


def test_what_is_lost_unseen_and_little_is_an_uncertainty_and_more_is_a_question():
    """One percent of 180 g is 1.8 g; a rectangular half width becomes u by the root of three."""
    plan = Plan(there_g=180.0)
    pour = part(0, 100.0, flows=True, lasts_s=30.0)
    little = fitting([pour, part(40, -1.7, "away", gap=True, counted=False)], plan, {})[1]
    assert (little.sure, little.u_g) == (True, pytest.approx(1.7 / math.sqrt(3.0)))
    more = fitting([pour, part(40, -1.9, "away", gap=True, counted=False)], plan, {})[1]
    assert (more.sure, more.lost, more.u_g) == (False, True, 0.0)
    far = fitting([pour, part(51, -1.9, "away", gap=True, counted=False)], plan, {})[1]
    assert far.sure is True, "more than 20 s off nothing was poured"
    near = fitting([pour, part(50, -1.9, "away", gap=True, counted=False)], plan, {})[1]
    assert near.sure is False
    lifted = fitting([pour, part(40, -1.9, "away", counted=False)], plan, {})[1]
    assert lifted.sure is True, "taken out; what was poured is in"


def test_of_scoops_the_one_that_is_just_too_much_is_asked():
    """180 g and 5 too much, less the half percent that stays in the pan."""
    scoops = [part(10 * k, g) for k, g in enumerate((60.0, 60.0, 60.0, 5.0))]
    found = fitting(scoops, Plan(there_g=180.0), {})
    assert [p.key for p in found if not p.sure] == ["30"]
    enough = fitting(scoops[:3], Plan(there_g=180.0), {})
    assert all(p.sure for p in enough)
    told = fitting(scoops, Plan(there_g=180.0), {"30": True})
    assert "30" not in [p.key for p in told if not p.sure]
    assert all(p.sure for p in fitting(scoops, Plan(), {}))


def test_what_flowed_on_while_something_else_happened_is_the_mean_of_both_rates():
    def meanwhile(before_g_s, after_g_s):
        return meanwhile_g(
            Change(
                start_s=10.0, end_s=14.0, before_g=0.0, after_g=0.0, u_before_g=0.1,
                u_after_g=0.1, took_s=4.0, slope_before_g_s=before_g_s,
                slope_after_g_s=after_g_s,
            )
        )  # fmt: skip

    assert meanwhile(2.0, 3.0) == 10.0
    assert [meanwhile(*slopes) for slopes in ((0.0, 3.0), (2.0, 0.0), (2.0, -1.0))] == [0.0] * 3


def test_of_scoops_that_may_be_too_much_the_one_between_two_that_lie_close_is_asked_first():
    """All about 20 g, one of them soon after the one before: a hand can't ladle so fast."""
    scoops = [
        part(at_s, g) for at_s, g in ((0, 22.0), (20, 21.0), (40, 20.0), (44, 20.5), (60, 22.0))
    ]
    found = fitting(scoops, Plan(there_g=86.0), {})
    assert [p.key for p in found if not p.sure] == ["44"]


def test_what_went_as_a_push_goes_is_taken_off_where_there_would_be_too_much_otherwise():
    went = part(40, -4.3, "out", u_g=4.3, counted=False)
    pour = [part(10, 200.0, flows=True), went, part(60, 90.0, flows=True)]
    assert [p.role for p in fitting(pour, Plan(there_g=287.0), {})] == ["poured", "small", "poured"]
    enough = fitting(pour, Plan(there_g=291.0), {})
    assert enough[1].role == "out"
    surely_out = [pour[0], part(40, -4.3, "out", counted=False), pour[2]]
    assert fitting(surely_out, Plan(there_g=287.0), {})[1].role == "out"


def test_what_weighs_as_another_ingredient_and_comes_at_once_is_asked_and_not_counted():
    pour = [part(10, 95.0, flows=True), open_part(30, 8.8), part(60, 90.0, flows=True)]
    assert counted(fitting(pour, Plan(there_g=194.0), {})) == [95.0, 8.8, 90.0]
    listed = fitting(pour, Plan(there_g=194.0, others_g=(8.7, 400.0)), {})
    assert counted(listed) == [95.0, 90.0]
    assert [p.key for p in listed if not p.sure] == ["30"]

"""A display step that nobody stated is learned from its flicker, never from loads."""

import math

import pytest

from logger.model.bench import bench_of_roles
from logger.model.reading import Reading
from logger.watch.engine.contract import Batch, Context, Outbox
from logger.watch.scale.loads import LoadDetector, StabilityDetector
from tests.watch.made_up import made_up_sheet

S = 1_000_000_000
SHEET = made_up_sheet("form")


def detector():
    context = Context(
        sheet=SHEET,
        bench=bench_of_roles(["bench_scale"]),
        stage=None,
        start_ns=0,
        batch=Batch(),
        out=Outbox(),
        correctors={},
        fats={},
    )
    return LoadDetector(context, "bench_scale")


def changes(levels_g, *, step_g=0.1, flicker=False, hz=5):
    """What is told of levels that are shown for four seconds each, without anything between."""
    scale, found = detector(), []
    for number, level_g in enumerate(levels_g):
        for sample in range(4 * hz):
            shown_g = round(level_g / step_g) * step_g
            if flicker and sample % 3 == 1:
                shown_g += step_g
            t_ns = (number * 4 * hz + sample) * S // hz
            step = scale.take(Reading("bench_scale", t_ns, round(shown_g, 6), math.nan, 0))
            if step is not None:
                found.append((step.what, round(step.mass_g, 3)))
    return scale, found


@pytest.mark.parametrize("masses_g", [[80.0, 83.0, 79.0], [40.3, 6.2, 2.5], [250.0, 12.0]])
def test_clean_loads_are_each_told_however_small_beside_the_first(masses_g):
    levels_g = [0.0]
    for mass_g in masses_g:
        levels_g += [mass_g, 0.0]
    _, found = changes(levels_g)
    assert found == [(what, pytest.approx(mass_g)) for mass_g in masses_g for what in ("on", "off")]


def test_a_coat_of_some_grams_on_a_clean_scale_is_told_as_a_change():
    _, found = changes([0.0, 80.0, 84.5])
    assert found[0] == ("on", pytest.approx(80.0))
    assert found[-1] == ("changed", pytest.approx(84.5))


@pytest.mark.parametrize("step_g", [0.1, 0.5, 1.0, 2.0, 5.0])
def test_the_flicker_of_the_last_digit_shows_the_step_also_a_coarse_one(step_g):
    scale, found = changes([0.0, 300.0, 0.0], step_g=step_g, flicker=True)
    assert scale.steady.step_g == pytest.approx(step_g)
    assert [what for what, _ in found][:2] == ["on", "off"]


def test_nothing_is_said_of_the_step_before_the_display_has_moved():
    steady = StabilityDetector(None)
    for sample in range(10):
        steady.take(Reading("bench_scale", sample * S // 5, 0.0, math.nan, 0))
    assert steady.step_g is None


def test_one_touch_that_lasts_a_single_reading_is_no_step():
    steady = StabilityDetector(None)
    for sample, shown_g in enumerate([0.0, 0.0, 30.0, 0.0, 0.0, 0.4, 0.4]):
        steady.take(Reading("bench_scale", sample * S // 5, shown_g, math.nan, 0))
    assert steady.step_g == pytest.approx(0.4)
    steady = StabilityDetector(None)
    for sample, shown_g in enumerate([0.0, 0.0, 30.0, 0.0, 0.0, 250.3]):
        steady.take(Reading("bench_scale", sample * S // 5, shown_g, math.nan, 0))
    assert steady.step_g == pytest.approx(0.1)

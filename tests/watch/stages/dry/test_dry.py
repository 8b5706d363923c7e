"""Drying on a rack: loss, rate, and whether the surface film is probably gone."""

import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.readings.simulate import simulate
from logger.watch.engine.engine import Engine
from tests.virtual.operator_events import begin_s, stream
from tests.watch.bench_person import Person

HEAD = """
[sheet]
name = "Smoked beet and barley roll"
"""
AIR = """
[[stage]]
id = "air"
kind = "dry"
time = { low = "5 min", high = "20 min" }
loss = { low = "0.8 %", high = "3 %" }
"""
SHEET = HEAD + AIR
SHAPED = (
    SHEET
    + """
[[stage]]
id = "shape"
kind = "form"
pieces = 4
piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }
"""
)
PIECES = (75.0, 74.0, 76.5, 74.5)


def laid(*, tare=True, step_g=0.01, rack_g=386.0, pause_s=3.0, sheet=SHEET):
    person = Person(sheet, step_g=step_g, flags=True).wait().put(rack_g)
    if tare:
        person.tare()
    for mass_g in PIECES:
        person.put(mass_g, seconds=pause_s)
    return person


def finding(person, check="mass lost"):
    return next(f for f in person.end() if f.check == check)


@pytest.mark.parametrize("tare", [True, False])
@pytest.mark.parametrize("pause_s", [0.3, 3.0])
def test_the_loss_is_a_share_of_the_pieces_and_not_of_the_rack(tare, pause_s):
    person = laid(tare=tare, pause_s=pause_s, sheet=SHAPED).wait(600.0, evaporates_g_h=24.0)
    found = finding(person)
    # 24 g in an hour for 600 s are 4 g of 300 g.
    assert found.value == pytest.approx(100.0 * 4.0 / sum(PIECES), abs=0.02)
    assert found.unit == "%"
    assert found.verdict == "met"
    assert found.expanded_uncertainty > 0.0


def test_an_untared_rack_leaves_the_loss_undecided_where_no_mass_is_known():
    person = laid(tare=False).wait(600.0, evaporates_g_h=24.0)
    assert finding(person).verdict == "undecided"
    assert "rack" in finding(person).evidence


def test_the_rate_is_told_and_a_steady_one_is_that_of_a_wet_surface():
    person = laid().wait(700.0, evaporates_g_h=24.0)
    assert "Surface film probably gone" not in person.view.say
    said = next(text for text in person.view.more if text.startswith("Loses "))
    rate, reach = (float(x) for x in said[6:].removesuffix(" g/h.").split(" ± "))
    found = person.end()
    values = person.engine.results().values
    assert values["dry_rate_g_h"] == pytest.approx(24.0, abs=1.0)
    assert rate == pytest.approx(24.0, abs=1.0)
    assert 0.0 < reach < 2.0, "of some six hundred readings to 0.01 g"
    assert values["dry_surface"] == "surface wet"
    assert {f.check: f.verdict for f in found}["drying time"] == "met"


def test_the_film_is_gone_once_the_rate_has_bent_and_the_range_of_the_bend_is_kept():
    """Steady for 10 min, then each minute a sixth less."""
    person = laid().wait(600.0, evaporates_g_h=30.0)
    for minute in range(9):
        assert "Surface film probably gone" not in person.view.say or minute > 3
        person.wait(60.0, evaporates_g_h=30.0 * (5.0 / 6.0) ** (minute + 1))
    assert "Surface film probably gone" in person.view.say
    person.end()
    values = person.engine.results().values
    assert values["dry_surface"] == "surface film probably gone"
    assert values["dry_bend_from_s"] - 60.0 < 600.0 < values["dry_bend_to_s"] + 60.0


def test_pieces_that_lose_nothing_stay_wet_and_the_loss_is_not_met():
    person = laid().wait(700.0)
    assert "probably gone" not in person.view.say
    assert finding(person).verdict == "not met"


def test_taking_the_pieces_off_at_the_end_is_no_loss():
    person = laid().wait(600.0, evaporates_g_h=24.0).put(-100.0).put(-190.0)
    assert finding(person).value == pytest.approx(100.0 * 4.0 / sum(PIECES), abs=0.02)


def test_a_piece_turned_over_goes_on_with_the_same_curve():
    """A hand on the rack for a second ends no curve: the scale never rests under it."""
    person = laid().wait(300.0, evaporates_g_h=24.0)
    person.put(40.0, seconds=0.2, over_s=0.4).put(-40.0, seconds=0.5, over_s=0.4)
    person.wait(300.0, evaporates_g_h=24.0)
    assert finding(person).value == pytest.approx(100.0 * 4.0 / sum(PIECES), abs=0.03)


def test_it_never_says_safe_and_always_shows_the_caution():
    person = laid()
    for _ in range(12):
        view = person.wait(60.0, evaporates_g_h=24.0).view
        words = " ".join([view.say, *view.more, *view.cautions]).lower()
        assert "safe" not in words
        assert "mass loss cannot tell" in words
        assert "hot oil" in words


def test_without_a_scale_or_without_pieces_the_loss_is_not_measured():
    nothing = Person(SHEET).wait(20.0)
    assert finding(nothing).verdict == "not measured"
    bare = Person(SHEET, roles=False)
    bare.t_s = 400.0
    assert finding(bare).verdict == "not measured"
    assert "no scale" in finding(bare).evidence


@pytest.mark.parametrize("size", [1, 13, 200])
def test_any_cutting_of_the_stream_gives_the_same(size):
    person = laid().wait(400.0, evaporates_g_h=24.0)
    assert not any(isinstance(i, Event) and i.kind == "gap" for i in person.items)
    assert person.same_in_pieces(size)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [2])
def test_the_loss_of_a_virtual_batch_is_that_of_its_truth(seed):
    """The scale rests some 15 s less than the pieces lie on the rack: 0.05 % at 62 g an hour."""
    run = simulate(seed)
    engine = Engine(
        sheet_from_text(sheet_text(run), "s"), bench_of_roles(list(run.channels)),
        correctors={}, fats=builtin_fats(),
    )  # fmt: skip
    items = stream(run, 0.02, until_s=begin_s(run, "cook") + 1.0)
    engine.feed(items, items[-1].t_ns)
    truth = run.truth
    laid_g = sum(
        piece["mass_out_g"] - piece["drag_g"] + 0.012 * area
        for piece, area in zip(truth["immersions"], truth["surface_cm2"], strict=True)
    )
    found = next(f for f in engine.results().findings if f.check == "mass lost")
    assert found.value == pytest.approx(100.0 * truth["dried_g"] / laid_g, abs=0.06)
    assert found.verdict == "met"


@pytest.mark.parametrize(("sheet", "known"), [(SHAPED, True), (SHEET, False)])
def test_what_lay_on_the_rack_drained_is_kept_where_the_rack_is_told_apart(sheet, known):
    person = laid(tare=False, sheet=sheet).wait(400.0)
    person.end()
    values = person.engine.results().values
    assert ("dry_drained_g" in values) == known
    if known:
        assert values["dry_drained_g"] == pytest.approx(sum(PIECES), abs=0.1)

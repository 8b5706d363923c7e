"""Each root cause leads to its defect, and only a batch without one comes out right."""

from itertools import combinations

import pytest

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.virtual.batch.causes import CAUSES, PIECE_CAUSES, check_causes
from logger.virtual.batch.circumstances import draw
from logger.virtual.batch.judge import defects_of, piece_defects_of
from logger.virtual.bodies.physics import World
from logger.virtual.lines.instruments import VirtualBench


def _finished(seed: int, *causes: str, short: bool) -> World:
    world = World(seed, causes, short=short)
    while world.time_s < world.script.end_s:
        world.step()
    return world


@pytest.mark.parametrize("short", [True, False])
def test_an_ordinary_batch_has_no_defect(short):
    for seed in range(6):
        assert defects_of(_finished(seed, short=short)) == []


@pytest.mark.parametrize("cause", CAUSES)
def test_a_root_cause_shows_as_its_defect(cause):
    for seed in range(2):
        assert CAUSES[cause].defect in defects_of(_finished(seed, cause, short=False))


@pytest.mark.parametrize("cause", [name for name, c in CAUSES.items() if c.short])
def test_a_root_cause_shows_in_the_short_batch_too(cause):
    for seed in range(4):
        assert CAUSES[cause].defect in defects_of(_finished(seed, cause, short=True))


@pytest.mark.parametrize(("cause", "most"), [("one_late_piece", 1), ("cold_side_of_bath", 2)])
def test_what_goes_wrong_with_some_pieces_spares_the_others(cause, most):
    world = _finished(3, cause, short=True)
    defect = PIECE_CAUSES[cause].defect
    assert defects_of(world) == [defect]
    hit = [piece for piece, found in piece_defects_of(world).items() if found == [defect]]
    assert hit
    assert hit[-1] - hit[0] < most


def test_every_defect_is_one_that_the_sheet_knows(tmp_path):
    bench = VirtualBench(tmp_path)
    try:
        sheet = sheet_from_text(bench.sheet_text(), "roll.sheet.toml")
    finally:
        bench.stop()
    assert {c.defect for c in CAUSES.values()} <= set(sheet.sheet.defects)
    assert {c.stage for c in CAUSES.values()} <= {s.id for s in sheet.stage}


def test_a_cause_changes_nothing_that_it_is_not_about():
    plain, thick = draw(5), draw(5, ("thick_coat",))
    assert thick.coat_mm != plain.coat_mm
    for name in ("piece_g", "dwell_s", "fat_set_c", "pour_g_s", "bath_c", "new_lots"):
        assert getattr(thick, name) == getattr(plain, name)


def test_an_unknown_cause_is_answered_with_the_known_ones():
    with pytest.raises(InputError, match=r"there is no cause of that name.*fat_too_cool"):
        check_causes(["fat_too_col"])
    with pytest.raises(InputError, match="the short batch has no stage for it"):
        check_causes(["short_chill"], short=True)


MASKING = [
    {"short_dwell", "long_dwell"},
    {"long_dwell", "hydrate_mistaken"},
    {"long_dwell", "cold_bath"},
    {"another_fat", "water_too_cold"},
    {"probe_swapped", "fat_too_cool"},
]
"""Pairs that make up for each other, so that not both defects can show."""


def test_two_causes_show_both_defects_unless_they_make_up_for_each_other():
    short = [name for name, cause in CAUSES.items() if cause.short]
    for seed, pair in enumerate(combinations(short, 2)):
        if set(pair) not in MASKING:
            found = defects_of(_finished(seed, *pair, short=True))
            assert {CAUSES[name].defect for name in pair} <= set(found), pair

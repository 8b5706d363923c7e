"""Coats weighed with the piece or with the vessel on the scale; thickness; dwell at once."""

import statistics

import pytest

from logger.model.finding import Finding
from logger.science.gel.coating import Body, coat_mass_g, coat_thickness_mm
from tests.watch.bench_person import Person
from tests.watch.ingredients import HEAD, coat_and_bath

STAGES = """
[[stage]]
id = "coat"
kind = "coat"
pieces = 3
piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }
pickup = { low = "5.5 g", high = "12 g" }
thickness = { low = "0.55 mm", high = "1.05 mm" }
[[stage]]
id = "skin"
kind = "set"
dwell = { low = "7 min", high = "11 min" }
stirred = true
"""
SHEET = HEAD + coat_and_bath(10) + STAGES
VESSEL = SHEET.replace("pieces = 3\n", 'pieces = 3\nscale_holds = "vessel"\n', 1)
FORM = '[[stage]]\nid = "shape"\nkind = "form"\nmass = { low = "52 g", high = "82 g" }\n'
FORMED = SHEET.replace("[[stage]]\n", FORM + "[[stage]]\n", 1)
BARE, COATS = (62.0, 73.4, 57.4), (8.2, 9.3, 7.9)
BODY = Body(shape="cylinder", diameter_mm=26.0, length_mm=130.0)


def coats(person):
    return [r.coat_mass_g for r in person.pieces.values()]


def found_of(findings, check, piece=None) -> Finding:
    return next(f for f in findings if (f.check, f.piece) == (check, piece))


def dipped(person, bare=BARE, picked=COATS):
    for bare_g, coat_g in zip(bare, picked, strict=True):
        person.weigh(bare_g).wait(8.0).weigh(bare_g + coat_g)
    return person


@pytest.mark.parametrize("step_g", [0.01, 0.1])
def test_coat_mass_is_after_less_before(step_g):
    person = dipped(Person(SHEET, step_g=step_g).wait())
    assert coats(person) == pytest.approx(list(COATS), abs=2.1 * step_g)
    assert [r.bare_mass_g for r in person.pieces.values()] == pytest.approx(
        list(BARE), abs=1.1 * step_g
    )
    assert "All coats are weighed" in person.view.say


def test_with_masses_from_forming_only_the_way_out_of_the_dip_needs_the_scale():
    person = Person(FORMED, step_g=0.01).wait().weigh(*BARE).do("next").wait()
    person.weigh(*(b + c for b, c in zip(BARE, COATS, strict=True)))
    assert coats(person) == pytest.approx(list(COATS), abs=0.05)


def test_all_before_and_then_all_after_is_told_apart_by_the_masses_of_forming():
    person = Person(FORMED, step_g=0.01).wait().weigh(*BARE).do("next").wait()
    person.weigh(*BARE).weigh(*(b + c for b, c in zip(BARE, COATS, strict=True)))
    assert coats(person) == pytest.approx(list(COATS), abs=0.05)


def test_a_piece_that_lost_some_drops_since_forming_counts_as_it_is_now():
    person = Person(FORMED, step_g=0.01).wait().weigh(*BARE).do("next").wait()
    dipped(person, bare=[m - 0.4 for m in BARE])
    assert coats(person) == pytest.approx(list(COATS), abs=0.05)


def test_the_vessel_on_the_scale_gives_the_same_coats():
    person = Person(VESSEL).wait().put(620.0).wait()
    for coat_g in COATS:
        person.put(55.0, over_s=1.0, seconds=2.0)  # the piece hangs in it
        person.put(-55.0 - coat_g - 1.5, over_s=0.8, seconds=2.0).put(1.5, over_s=1.0)  # drips
        person.wait(6.0)
    assert coats(person) == pytest.approx(list(COATS), abs=0.25)


def test_filling_up_the_vessel_is_no_coat():
    person = Person(VESSEL).wait().put(620.0).put(200.0).wait(40.0)
    person.put(40.0, seconds=2.0).put(-48.0).wait(6.0)
    assert coats(person) == pytest.approx([8.0], abs=0.25)


def test_thickness_is_the_exact_geometry_of_the_sheets_body():
    """Two pieces are too few to scale the body by mass: the sheet's size stands."""
    person = dipped(Person(SHEET, step_g=0.01).wait(), BARE[:2], COATS[:2])
    shown = [r.coat_mm for r in person.pieces.values()]
    wanted = [coat_thickness_mm(g, BODY, 998.2 + 500 * 0.015) for g in COATS[:2]]
    assert shown == pytest.approx(wanted, rel=0.005)


def test_alike_pieces_are_larger_and_smaller_with_their_mass():
    """Pieces of 0.8, 1 and 1.2 times the mean mass in one shape, each with 0.8 mm of coat."""
    bare = (53.6, 67.0, 80.4)
    picked = []
    for bare_g in bare:
        scale = (bare_g / 67.0) ** (1 / 3)
        body = Body(shape="cylinder", diameter_mm=26.0 * scale, length_mm=130.0 * scale)
        picked.append(coat_mass_g(0.8, body, 998.2 + 500 * 0.015))
    person = dipped(Person(SHEET, step_g=0.01).wait(), bare, picked)
    shown = [r.coat_mm for r in person.pieces.values()]
    assert shown == pytest.approx([0.8, 0.8, 0.8], rel=0.01)


def test_the_needed_dwell_is_told_as_a_range_at_once():
    person = Person(SHEET).wait().weigh(62.0).wait(8.0).put(70.2)
    assert any(t.startswith("Leave it") and "the skin needs" in t for t in person.view.more)


def test_a_bath_that_cannot_set_the_coat_is_refused_before_the_dip_into_it():
    weak = SHEET.replace('mass = "10 g"', 'mass = "0.02 g"')
    person = Person(weak).wait().weigh(62.0).wait(8.0).put(70.2)
    assert "cannot set" in person.view.say
    assert person.view.tone == "stop"


def test_coats_are_judged_and_what_was_not_weighed_is_not_met():
    person = dipped(Person(SHEET).wait(), BARE[:2], (8.2, 4.0))
    found = person.end()
    assert found_of(found, "coat mass", 1).verdict == "met"
    assert found_of(found, "coat thickness", 1).verdict == "met"
    assert found_of(found, "coat mass", 2).verdict == "not met"
    assert found_of(found, "coat thickness", 2).verdict == "not met"
    assert found_of(found, "coat mass").verdict == "not measured"
    assert "1 of 3" in found_of(found, "coat mass").evidence
    assert "coat_spread_percent" in person.engine.results().values


def test_without_a_shape_there_is_a_mass_but_no_thickness_and_it_says_so():
    bare = SHEET.replace('piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }', "")
    person = dipped(Person(bare).wait())
    assert coats(person) == pytest.approx(list(COATS), abs=0.21)
    assert "the sheet gives no shape of a piece" in " ".join(person.view.more)
    assert found_of(person.end(), "coat thickness", 1).verdict == "not measured"


def test_without_a_scale_typed_masses_do():
    person = Person(SHEET, roles=False)
    person.do("register_piece", piece=1, mass_g=62.0).do("register_piece", piece=1, mass_g=70.0)
    assert coats(person) == [8.0]
    assert found_of(person.end(), "coat mass", 1).verdict == "undecided"


@pytest.mark.parametrize("size", [1, 7, 333])
@pytest.mark.parametrize("sheet", [SHEET, VESSEL])
def test_where_the_stream_is_cut_does_not_matter(sheet, size):
    assert dipped(Person(sheet).wait(), BARE[:2], COATS[:2]).same_in_pieces(size)


def test_mean_and_spread_of_the_coats_are_results_of_the_run():
    person = dipped(Person(SHEET, step_g=0.01).wait())
    person.end()
    thick = [r.coat_mm for r in person.pieces.values()]
    values = person.engine.results().values
    assert values["coat_mm_mean"] == pytest.approx(statistics.mean(thick), rel=1e-9)
    assert values["coat_mm_sd"] == pytest.approx(statistics.stdev(thick), rel=1e-9)


def test_a_coated_piece_as_heavy_as_the_next_bare_one_is_put_right_by_what_follows():
    """62.0 g and 11.4 g of coat weigh what the second piece weighs bare."""
    person = Person(FORMED, step_g=0.01).wait().weigh(*BARE).do("next").wait()
    dipped(person, picked=(11.4, 9.3, 7.9))
    assert coats(person) == pytest.approx([11.4, 9.3, 7.9], abs=0.05)


def test_twice_the_usual_coat_stays_with_its_piece():
    person = Person(FORMED, step_g=0.01).wait().weigh(*BARE).do("next").wait()
    dipped(person, picked=(16.5, 18.0, 15.2))
    assert coats(person) == pytest.approx([16.5, 18.0, 15.2], abs=0.05)
    assert found_of(person.end(), "coat mass", 1).verdict == "not met"


def test_a_coated_piece_weighed_again_counts_once():
    person = Person(SHEET, step_g=0.01).wait().weigh(62.0).wait(8.0).weigh(70.2, 70.15)
    person.weigh(73.4).wait(8.0).weigh(82.7)
    assert coats(person) == pytest.approx([8.15, 9.3], abs=0.05)


def test_a_drop_that_falls_off_the_coated_piece_does_not_count_to_its_coat():
    """0.3 g of a 5 g coat is 6 % of its thickness and 12 % of its time."""
    person = Person(SHEET).wait().weigh(62.0).wait(8.0)
    person.put(68.0).put(-0.3).put(-67.7)
    assert coats(person) == pytest.approx([5.7], abs=0.15)


def test_a_drop_that_falls_back_into_the_vessel_does_not_count_to_the_coat():
    person = Person(VESSEL).wait().put(620.0).wait()
    person.put(55.0, over_s=1.0, seconds=2.0).put(-61.0, over_s=0.8, seconds=3.0)
    person.put(0.3, over_s=0.4).wait(6.0)
    assert coats(person) == pytest.approx([5.7], abs=0.15)


def test_a_flickering_last_digit_is_no_other_mass():
    person = Person(SHEET).wait().put(62.04, seconds=30.0)
    assert len([e for e in person.said if e.kind == "piece_registered"]) <= 1


def test_a_smaller_mass_typed_again_is_the_bare_mass():
    person = Person(SHEET, roles=False).do("register_piece", piece=1, mass_g=68.0)
    person.do("register_piece", piece=1, mass_g=62.0)
    person.do("register_piece", piece=1, mass_g=69.0)
    assert person.pieces[1].bare_mass_g == pytest.approx(62.0)
    assert coats(person) == pytest.approx([7.0])


def test_a_typed_mass_that_is_no_coated_piece_is_refused_in_words():
    person = Person(SHEET, roles=False).do("register_piece", piece=1, mass_g=62.0)
    person.do("register_piece", piece=1, mass_g=690.0)
    assert coats(person) == [None]
    (said,) = [e for e in person.said if e.kind == "not_done"]
    assert said.text == "piece 1: 628 g is too much for a coat; enter its mass again"


def test_the_needed_dwell_goes_by_the_slab_test_of_the_alginate():
    slab = {
        "alginate": "Sodium  alginate", "tested": "2026-11-20", "d25_m2_s": 0.7e-9,
        "d25_low_m2_s": 0.65e-9, "d25_high_m2_s": 0.75e-9, "calcium_over_capacity": 2.0,
    }  # fmt: skip
    plain = dipped(Person(SHEET).wait())
    by_slab = dipped(Person(SHEET).do("slab_test", **slab).wait())
    assert "slab test" not in " ".join(plain.view.more)
    assert "by your slab test of 2026-11-20 the skin needs" in " ".join(by_slab.view.more)


@pytest.mark.parametrize("missed", [0, 4, 5])
def test_after_a_missed_weighing_no_thin_coat_is_that_of_another_piece(missed):
    """Pieces differ by as much as their coats weigh: what can't be told has no verdict."""
    bare, picked = (62.0, 64.9, 62.4, 64.4, 62.9), (2.2, 2.1, 2.0, 2.1, 2.3)
    sheet = FORMED.replace("pieces = 3", "pieces = 5")
    person = Person(sheet, step_g=0.01).wait().weigh(*bare).do("next").wait()
    weighings = [m for b, c in zip(bare, picked, strict=True) for m in (b, b + c)]
    for number, mass_g in enumerate(weighings):
        if number != missed:
            person.weigh(mass_g)
    person.do("next").wait()
    for number, row in person.pieces.items():
        if row.coat_mass_g is not None:
            assert row.coat_mass_g == pytest.approx(picked[number - 1], abs=0.3)
    assert any(row.coat_mass_g is None for row in person.pieces.values())

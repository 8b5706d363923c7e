"""What a plan finds fault with, just inside and just outside of each limit, and its ranges."""

import pytest

from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.review.plan.plan import plan
from logger.science.fats.fatfile import builtin_fats

FATS = builtin_fats()
MELTED = FATS["cocoa_butter"].all_melted_above_c
SETS = FATS["cocoa_butter"].sets_below_c
HEAD = """
[sheet]
name = "Roll"

[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "200 g"

[[ingredient]]
name = "stock"
phase = "water"
substance = "water"
mass = "300 g"
"""


def planned(text, roles=None):
    bench = None if roles is None else bench_of_roles(roles)
    return plan(sheet_from_text(HEAD + text, "roll"), bench, FATS)


def weights(found, says):
    return [t.weight for t in found.troubles if says in t.says]


def prediction(found, name):
    return next((p for p in found.predictions if p.name == name), None)


def warm(low="50 degC", high="60 degC", rest=""):
    return f"""
[[stage]]
id = "warm"
kind = "heat"
fat = {{ low = "{low}", high = "{high}" }}
water = {{ low = "50 degC", high = "60 degC" }}
{rest}
"""


@pytest.mark.parametrize(
    ("low_c", "weight"),
    [
        (MELTED.value + 2 * MELTED.u, []),
        (MELTED.value + 2 * MELTED.u - 0.01, ["mind"]),
        (MELTED.value, ["mind"]),
        (MELTED.value - 0.01, ["will not work"]),
    ],
)
def test_a_fat_band_must_begin_where_the_fat_is_surely_melted(low_c, weight):
    found = planned(warm(low=f"{low_c} degC"))
    assert weights(found, "fully melted only above") == weight
    melted = prediction(found, "fat_all_melted_above_c")
    assert (melted.low, melted.value, melted.high) == (
        MELTED.value - 2 * MELTED.u, MELTED.value, MELTED.value + 2 * MELTED.u
    )  # fmt: skip


@pytest.mark.parametrize(
    ("mix", "weight"),
    [
        ('low = "49.99 degC", high = "60.01 degC"', []),
        ('low = "50.1 degC", high = "60 degC"', ["mind"]),
        ('low = "50 degC", high = "59.9 degC"', ["mind"]),
        ('low = "59.9 degC"', ["mind"]),
        ('low = "60.1 degC"', ["will not work"]),
        ('high = "50.1 degC"', ["mind"]),
        ('high = "49.9 degC"', ["will not work"]),
        ('low = "4 degC", high = "5 degC"', []),
    ],
)
def test_a_target_of_the_mixture_is_compared_with_what_the_bands_can_give(mix, weight):
    """Fat and water from 50 to 60 degC give a mixture from 50 to 60 degC; nothing is poured here,
    so that no heat is lost."""
    found = planned(warm(rest=f"mix = {{ {mix} }}"))
    mixed = prediction(found, "mixing_temp_c")
    assert (mixed.low, mixed.value, mixed.high) == pytest.approx((50.0, 55.0, 60.0), abs=1e-6)
    assert weights(found, "target for the mix") == weight
    frozen = "no water between 0 and 100"
    assert bool(weights(found, frozen)) is mix.startswith('low = "4 ')


def test_the_margin_above_setting_is_counted_from_the_likely_mixture():
    found = planned(warm())
    assert prediction(found, "room_before_setting_k").value == pytest.approx(55.0 - SETS.value)
    assert weights(found, "begins to set below") == []
    cool = 'water = { low = "50 degC"'
    for low_c, weight in ((14.0, ["mind"]), (4.0, ["will not work"])):
        text = warm().replace(cool, f'water = {{ low = "{low_c} degC"')
        text = text.replace('high = "60 degC" }\n\n', f'high = "{low_c + 4} degC" }}\n\n')
        found = planned(text)
        mixed = prediction(found, "mixing_temp_c")
        assert mixed.low < SETS.value + 2 * SETS.u
        assert (mixed.value < SETS.value) is (weight == ["will not work"])
        assert weights(found, "begins to set below") == weight


def test_several_fats_and_a_fat_without_a_key_are_told():
    shea = '[[ingredient]]\nname = "shea"\nphase = "fat"\nfat = "shea_butter"\nmass = "20 g"\n'
    assert weights(planned(warm()), "several fats") == []
    mixed = planned(shea + warm())
    assert weights(mixed, "several fats are mixed; the limits shown are those of cocoa") == ["mind"]
    plain = '[[ingredient]]\nname = "butter"\nphase = "fat"\nmass = "{}"\n'
    for mass, weight in (("90 g", ["mind"]), ("1 g", [])):
        blend = planned(plain.format(mass) + warm())
        assert weights(blend, "are those of cocoa butter alone: butter,") == weight
    text = (HEAD + warm()).replace('"cocoa butter"', '"butter"')
    renamed = plan(sheet_from_text(text, "roll"), None, FATS)
    assert weights(renamed, "butter counts as cocoa butter") == ["note"]
    assert weights(planned(warm()), "counts as") == []
    own = HEAD.replace('fat = "cocoa_butter"\n', "") + warm()
    found = plan(sheet_from_text(own, "roll"), None, FATS)
    assert any("no ingredient names its fat" in text for text in found.untold)
    assert prediction(found, "fat_all_melted_above_c") is None


def pour(rest):
    return f'\n[[stage]]\nid = "combine"\nkind = "emulsify"\n{rest}\n'


def test_a_pour_lasts_its_mass_over_its_rate():
    """200 g at 60 to 100 g/min: 120 to 200 s, 150 s in the middle; 300 g of water 225 s."""
    rate = 'rate = { low = "60 g/min", high = "100 g/min" }'
    found = prediction(planned(pour(rate)), "pour_s")
    assert (found.low, found.value, found.high) == pytest.approx((120.0, 150.0, 200.0))
    found = prediction(planned(pour(rate + '\npour = "water"')), "pour_s")
    assert (found.low, found.value, found.high) == pytest.approx((180.0, 225.0, 300.0))
    fastest = prediction(planned(pour('rate = { high = "100 g/min" }')), "pour_s")
    assert (fastest.low, fastest.value, fastest.high) == (120.0, 120.0, None)


@pytest.mark.parametrize(("mass_g", "weight"), [(1200.0, []), (1201.0, ["will not work"])])
def test_nobody_pours_for_more_than_two_hours(mass_g, weight):
    """1200 g at 10 g/min take 7200 s."""
    text = HEAD.replace('"200 g"', f'"{mass_g} g"') + pour('rate = { high = "10 g/min" }')
    assert weights(plan(sheet_from_text(text, "roll"), None, FATS), "to pour even at") == weight


@pytest.mark.parametrize(
    ("band", "says", "weight"),
    [
        ('mass = { low = "200 g" }', "but the target is at least", []),
        ('mass = { low = "200.1 g" }', "but the target is at least", ["will not work"]),
        ('mass = { high = "100 g" }', "but the target is at least", []),
        ('fat_fraction = { low = "40 %" }', "outside the target fat", []),
        ('fat_fraction = { high = "40 %" }', "outside the target fat", []),
        ('fat_fraction = { low = "40.1 %" }', "outside the target fat", ["will not work"]),
        ('fat_fraction = { high = "39.9 %" }', "outside the target fat", ["will not work"]),
    ],
)
def test_the_amounts_must_fit_the_pour(band, says, weight):
    """200 g of fat in 500 g are 40 %."""
    assert weights(planned(pour(band)), says) == weight


@pytest.mark.parametrize(
    ("form", "each_g", "weight"),
    [
        ('pieces = 6\nmass = { low = "83.3 g" }', 500 / 6, []),
        ('pieces = 6\nmass = { low = "83.4 g" }', 500 / 6, ["will not work"]),
        ('pieces = 5\nmass = { low = "100 g" }', 100.0, []),
        ('mass = { low = "100 g" }', None, []),
    ],
)
def test_the_filling_must_do_for_the_pieces(form, each_g, weight):
    found = planned(f'\n[[stage]]\nid = "shape"\nkind = "form"\n{form}\n')
    each = prediction(found, "most_piece_g")
    assert (each and each.value) == pytest.approx(each_g)
    assert weights(found, "pieces of at least") == weight
    nothing = '[sheet]\nname = "R"\n[[stage]]\nid = "shape"\nkind = "form"\npieces = 6\n'
    empty = plan(sheet_from_text(nothing, "empty"), None, FATS)
    assert prediction(empty, "most_piece_g") is None


@pytest.mark.parametrize(
    ("binder_g", "time", "given"),
    [
        (12.0, 'planned = "59 min"', "59 min"),
        (12.0, 'planned = "60 min"', None),
        (12.0, "", "no time"),
        (12.0, 'planned = "60 min"\ntime = { low = "20 min" }', "20 min"),
        (7.4, "", "no time"),
        (7.3, "", None),
    ],
)
def test_a_binder_needs_about_an_hour(binder_g, time, given):
    """At 3 % an hour (common practice, no source), asked from 2.4 %: 7.4 of 307.4 g are 2.41 %."""
    binder = '[[ingredient]]\nname = "fibre"\nphase = "water"\nsubstance = "binder"\n'
    soak = f'mass = "{binder_g} g"\n\n[[stage]]\nid = "soak"\nkind = "hydrate"\n{time}\n'
    found = [t.says for t in planned(binder + soak).troubles if "take up water" in t.says]
    assert len(found) == (given is not None)
    assert given is None or f"gets {given} to" in found[0]


def test_hot_fat_has_its_caution_once_and_wet_pieces_are_dried_before_it():
    pan = '\n[[stage]]\nid = "{0}"\nkind = "cook"\n'
    rinse, dry = (f'\n[[stage]]\nid = "{k}"\nkind = "{k}"\n' for k in ("rinse", "dry"))
    found = planned(rinse + pan.format("pan") + pan.format("again"))
    assert len([c for c in found.cautions if "spits" in c]) == 1
    assert weights(found, "without a drying stage") == ["mind"]
    assert weights(planned(rinse + dry + pan.format("pan")), "without a drying stage") == []
    assert weights(planned(pan.format("pan")), "without a drying stage") == []


def test_the_stages_add_up_and_those_without_a_time_are_named():
    form = '\n[[stage]]\nid = "{0}"\nkind = "form"\n'
    both = form.format("a") + 'planned = "4 min"\n' + form.format("b") + 'planned = "5 min"\n'
    assert prediction(planned(both), "total_s").value == 540.0
    one = planned(both + form.format("c"))
    assert prediction(one, "total_s").says.endswith("without c, which have no planned time")
    assert any("no stage has a planned time" in t for t in planned(form.format("a")).untold)
    assert any("has no stages" in t for t in planned("").untold)


def test_what_the_bench_lacks_for_a_stage_is_told():
    says = "the bench has no"
    assert weights(planned(warm(), ["fat", "water"]), says) == []
    found = planned(warm(), ["water"])
    assert [t.says for t in found.troubles if says in t.says] == [
        "the bench has no fat for stage warm"
    ]
    assert weights(planned(warm()), says) == []


@pytest.mark.parametrize(
    ("yield_g", "weight"), [(500.0, []), (500.1, ["mind"]), (400.0, [])]
)  # what goes in is 500 g
def test_no_more_comes_out_than_goes_in(yield_g, weight):
    text = HEAD.replace('name = "Roll"', f'name = "Roll"\nyield = "{yield_g} g"', 1)
    found = plan(sheet_from_text(text, "roll"), None, FATS)
    assert weights(found, "the yield is more than") == weight
    lost = prediction(found, "yield_g")
    assert lost.value == yield_g
    assert ("20.0 % is lost" in lost.says) is (yield_g == 400.0)
    assert prediction(planned(""), "yield_g") is None


BATH = """
[[ingredient]]
name = "coat water"
phase = "coat"
substance = "water"
mass = "985 g"

[[ingredient]]
name = "alginate"
phase = "coat"
substance = "alginate"
mass = "15 g"

[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "{water} g"

[[ingredient]]
name = "salt"
phase = "bath"
salt = "{salt}"
mass = "{salt_g} g"

[[stage]]
id = "skin"
kind = "set"
pieces = 6
piece = {{ body = "patty", diameter = "90 mm", length = "15 mm" }}
{rest}
"""


def bath(salt_g=15.0, *, salt="calcium_chloride_anhydrous", whole_g=1500.0, rest="", coat="0.5 mm"):
    more = f'expected_coat = "{coat}"\n{rest}' if coat else rest
    return planned(BATH.format(water=whole_g - salt_g, salt=salt, salt_g=salt_g, rest=more))


@pytest.mark.parametrize(
    ("salt_g", "weight"),
    [(4.4, ["mind"]), (4.6, []), (44.9, []), (45.1, ["mind"])],
)
def test_a_bath_is_usual_from_a_third_of_a_percent_to_three(salt_g, weight):
    """0.3 and 3 % of 1500 g: common practice, no source."""
    found = bath(salt_g)
    assert weights(found, "usual is") == weight
    assert prediction(found, "salt_percent").value == pytest.approx(salt_g / 15.0)


def test_a_salt_that_keeps_calcium_back_is_told():
    assert weights(bath(), "does not release all its calcium") == []
    assert weights(bath(salt="calcium_lactate_pentahydrate"), "does not release") == ["mind"]


def test_the_calcium_that_a_batch_takes_grows_with_its_coats():
    """What is bound goes by the volume of the coats: twice the coat takes nearly twice as much."""
    thin = prediction(bath(), "calcium_used_percent").value
    thick = prediction(bath(coat="1 mm"), "calcium_used_percent").value
    assert 1.5 < thick / thin < 2.1
    for coat, value in (("0.5 mm", thin), ("1 mm", thick)):
        said = prediction(bath(coat=coat), "calcium_used_percent").says
        assert f" take {value:.1f} % of the calcium" in said
    assert weights(bath(), "of its strength: the last pieces") == []
    small = bath(4.5, whole_g=600.0, coat="1 mm")
    assert weights(small, "of its strength: the last pieces") == ["mind"]
    assert weights(bath(1.0, whole_g=300.0, coat="1.5 mm"), "bath") != []


def test_a_dwell_that_is_not_in_the_sheet_is_a_note_and_a_sheet_without_a_coat_gets_none():
    assert weights(bath(), "the sheet sets no dwell") == ["note"]
    bare = bath(coat="")
    assert any(t.endswith("the expected coat") for t in bare.untold)
    assert prediction(bare, "needed_dwell_s") is None
    coat = '[[stage]]\nid = "dip"\nkind = "coat"\nthickness = { low = "0.4 mm", high = "0.6 mm" }'
    by_stage = bath(coat="", rest=coat)
    written = bath(coat="0.5 mm")
    needed = [prediction(one, "needed_dwell_s") for one in (by_stage, written)]
    assert needed[0].value == pytest.approx(needed[1].value)


def test_coats_that_were_cut_and_measured_narrow_the_needed_dwell():
    """Flat enough for the square law, the thickest place needs its thickness squared as long."""
    coat = '[[stage]]\nid = "dip"\nkind = "coat"\nthickness = { low = "0.4 mm", high = "0.6 mm" }\n'
    guessed, cut = (
        prediction(bath(coat="", rest=coat + more), "needed_dwell_s")
        for more in ("", "thickest = 1.08")
    )
    assert guessed.value == cut.value
    assert cut.low == guessed.low
    assert guessed.value < cut.high < 0.9 * guessed.high
    assert "cut some pieces" in guessed.says
    assert "cut some pieces" not in cut.says


def test_a_colder_bath_without_a_band_goes_by_the_room():
    cold = planned(
        BATH.format(water=1485.0, salt="calcium_chloride_anhydrous", salt_g=15.0,
                    rest='expected_coat = "0.5 mm"'),
        ["bath"],
    )  # fmt: skip
    assert "at 20 °C in a still bath" in prediction(cold, "needed_dwell_s").says
    stirred = bath(rest="stirred = true")
    assert "in a stirred bath" in prediction(stirred, "needed_dwell_s").says
    slow, quick = (prediction(f, "needed_dwell_s").value for f in (bath(), stirred))
    assert quick < slow

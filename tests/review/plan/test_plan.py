"""The plan says before weighing what physics says afterwards, and what the sheet gets wrong."""

import json
import math

import pytest

from logger.batch import phases
from logger.batch.meeting import Warm
from logger.model.bench import Bench
from logger.model.files import bench_from_text, sheet_from_text
from logger.review.plan.heat_plan import middle
from logger.review.plan.plan import plan
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.contract import Batch, Context, Outbox

FATS = builtin_fats()

BASE = """
[sheet]
name = "Smoked beet and barley roll"

[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "200 g"
price = "10 EUR/kg"

[[ingredient]]
name = "stock"
phase = "water"
substance = "water"
mass = "300 g"
price = "2 EUR/kg"

[[ingredient]]
name = "water for the coat"
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
mass = "1485 g"

[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_anhydrous"
mass = "15 g"

[[stage]]
id = "warm"
kind = "heat"
fat = { low = "50 degC", high = "60 degC" }
water = { low = "50 degC", high = "60 degC" }

[[stage]]
id = "skin"
kind = "set"
pieces = 6
piece = { body = "patty", diameter = "90 mm", length = "15 mm" }
bath = { low = "18 degC", high = "22 degC" }
dwell = { low = "5 min", high = "10 min" }
expected_coat = "0.5 mm"
stirred = true
"""


def planned(text=BASE):
    return plan(sheet_from_text(text, "roll.sheet.toml"), None, FATS)


def troubles(found, weight):
    return [t.says for t in found.troubles if t.weight == weight]


def test_the_mixing_temperature_is_the_heat_balance_solved_by_hand():
    """200 g of 2.09 J/(g K) at 55 and 300 g of water at 55 stay at 55 degC; IAPWS-95: 4.183."""
    found = planned()
    assert found.value("mixing_temp_c") == pytest.approx(55.0, abs=1e-6)
    warm = planned(BASE.replace('fat = { low = "50', 'fat = { low = "70').replace(
        '70 degC", high = "60', '70 degC", high = "80'
    ))  # fmt: skip
    by_hand = (200 * 2.09 * 75 + 300 * 4.183 * 55) / (200 * 2.09 + 300 * 4.183)
    assert warm.value("mixing_temp_c") == pytest.approx(by_hand, abs=2e-3)


def test_the_vessel_of_the_water_is_counted_at_the_waters_temperature():
    bowl = '[[vessel]]\nid = "bowl"\nholds = "bowl"\nmass = "250 g"\nmaterial = "glass"\n'
    found = planned(BASE + bowl + 'temp = "22 degC"\n')
    heat, cold = 200 * 2.09 + 300 * 4.183, 250 * 0.84
    assert found.value("mixing_temp_c") == pytest.approx(
        (heat * 55 + cold * 22) / (heat + cold), abs=2e-3
    )


POURED = BASE.replace(
    '[[stage]]\nid = "skin"',
    """mix = { low = "48 degC" }

[[stage]]
id = "combine"
kind = "emulsify"
rate = { low = "60 g/min", high = "100 g/min" }

[[stage]]
id = "skin\"""",
)
BOWL = '[[vessel]]\nid = "steel"\nholds = "{holds}"\nmass = "400 g"\nmaterial = "stainless steel"\n'
BENCH = bench_from_text('[bench]\nname = "Table 2"\n[place]\nroom = "19 degC"\n', "bench.toml")


def live(text, bench=None):
    """Return what the watcher of warming predicts for both phases at 55 degC, and needs for 50."""
    sheet = sheet_from_text(text, "roll.sheet.toml")
    context = Context(
        sheet=sheet, bench=bench or Bench(), stage=None, start_ns=0, batch=Batch(), out=Outbox(),
        correctors={}, fats=FATS,
    )  # fmt: skip
    fat, _ = phases.main_fat(context)
    now = Warm(temp_c=55.0, u_k=0.3)
    wanted = middle(next(s for s in sheet.stage if s.kind == "heat").mix_c)
    mixed = phases.mixture(context, fat, now, now, 0.0)
    return mixed.temp_c, phases.needed_water_c(context, fat, now, now, wanted)


@pytest.mark.parametrize("bench", [None, BENCH])
@pytest.mark.parametrize("holds", [None, "bowl", "water", "fat"])
@pytest.mark.parametrize("pour", ["fat", "water"])
def test_plan_and_live_prediction_are_one_number(bench, holds, pour):
    text = POURED + ("" if holds is None else BOWL.format(holds=holds))
    text = text.replace('kind = "emulsify"', f'kind = "emulsify"\npour = "{pour}"')
    found = plan(sheet_from_text(text, "roll.sheet.toml"), bench, FATS)
    mixed_c, needed_c = live(text, bench)
    assert found.value("mixing_temp_c") == pytest.approx(mixed_c, abs=1e-9)
    assert found.value("needed_water_temp_c") == pytest.approx(needed_c, abs=1e-9)


def test_the_heat_lost_while_pouring_is_taken_off_the_plan():
    """200 g at 80 g/min take 150 s; 500 g in an open bowl lose 1 W/K (typical, unverified):
    150 s * 34 K = 5.1 kJ of 1.673 kJ/K, less as it cools: (1 - exp(-x))/x with x = 150/1673."""
    found = planned(POURED)
    capacity = 200 * 2.09 + 300 * 4.183
    lost_k = 34.0 * (1.0 - math.exp(-150.0 / capacity))
    assert lost_k == pytest.approx(5100.0 / capacity, rel=0.05)
    assert found.value("mixing_temp_c") == pytest.approx(55.0 - lost_k, abs=2e-3)
    says = next(p.says for p in found.predictions if p.name == "mixing_temp_c")
    assert "4.9 kJ go to the air while pouring" in says
    assert "while pouring" not in planned().predictions[1].says


@pytest.mark.parametrize("rate", ["", 'rate = { low = "60 g/min" }'])
def test_a_pour_without_a_quickest_rate_has_no_length(rate):
    text = POURED.replace('rate = { low = "60 g/min", high = "100 g/min" }', rate)
    assert "pour_s" in {p.name for p in planned(POURED).predictions}
    assert "pour_s" not in {p.name for p in planned(text).predictions}


def test_the_needed_dwell_of_a_flat_coat_is_neumanns():
    """1.5 % alginate, 1 % calcium chloride, 0.5 mm, 20 degC: 99.4 s (Crank 1984, eq. 3.14), plus
    film h/k (B/c + 1/3) and depletion, both small here."""
    found = planned()
    film_s = 0.5e-3 / 1e-5 * (38.16 / 90.67 + 1 / 3)
    likely = found.value("needed_dwell_s")
    assert 99.4 + film_s < likely < 1.03 * (99.4 + film_s)


def test_concentrations_and_cost_come_from_the_masses():
    found = planned()
    assert found.value("fat_fraction_percent") == pytest.approx(40.0)
    assert found.value("alginate_percent") == pytest.approx(1.5)
    assert found.value("salt_percent") == pytest.approx(1.0)
    assert found.value("cost_batch") == pytest.approx(2.60)
    assert found.value("cost_piece") == pytest.approx(2.60 / 6)
    assert found.value("cost_kg") == pytest.approx(5.20)


def test_binder_and_salt_of_the_water_phase_are_foretold_where_the_sheet_has_them():
    """12 g in 300 g of water and 12 g: 3.846 %."""
    binder = '[[ingredient]]\nname = "oat fibre"\nphase = "water"\nsubstance = "binder"\n'
    found = planned(BASE + binder + 'mass = "12 g"\n')
    assert found.value("binder_percent") == pytest.approx(1200.0 / 312.0)
    names = {p.name for p in planned().predictions}
    assert not names & {"binder_percent", "salt_in_water_percent"}


def test_a_hexahydrate_weakens_the_bath_by_its_crystal_water():
    """110.98 of 219.08 g/mol is salt: IUPAC standard atomic weights."""
    found = planned(BASE.replace("chloride_anhydrous", "chloride_hexahydrate"))
    assert found.value("salt_percent") == pytest.approx(110.984 / 219.076, rel=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('fat = { low = "50 degC"', 'fat = { low = "33 degC"', "fully melted only above"),
        ('high = "10 min"', 'high = "5 min"', None),
        ('mass = "15 g"\n\n[[stage', 'mass = "0.2 g"\n\n[[stage', "cannot set"),
        ('expected_coat = "0.5 mm"', 'expected_coat = "2.5 mm"', "longest dwell"),
        ('fat = "cocoa_butter"', 'fat = "cocoa_buter"', "not in the fats file"),
    ],
)
def test_what_will_not_work_is_said_before_weighing(old, new, says):
    assert old in BASE
    assert troubles(planned(), "will not work") == []
    found = troubles(planned(BASE.replace(old, new)), "will not work")
    if says is None:
        assert found == []
    else:
        assert any(says in text for text in found), found


def test_a_wanted_mix_out_of_reach_names_the_water_it_needs():
    text = BASE.replace(
        '[[stage]]\nid = "skin"', 'mix = { high = "40 degC" }\n\n[[stage]]\nid = "skin"'
    )
    found = planned(text)
    assert any("never the target for the mix" in s for s in troubles(found, "will not work"))
    needed = found.value("needed_water_temp_c")
    heat_f, heat_w = 200 * 2.09, 300 * 4.183
    assert (heat_f * 55 + heat_w * needed) / (heat_f + heat_w) == pytest.approx(40.0, abs=2e-3)


def test_a_sheet_that_lacks_numbers_is_told_what_is_missing():
    found = planned('[sheet]\nname = "empty"\n[[stage]]\nid = "warm"\nkind = "heat"\n')
    assert any("has no target for fat or water" in t for t in found.untold)
    assert any("no ingredients" in t for t in found.untold)
    assert found.value("mixing_temp_c") is None


def test_two_currencies_are_not_added():
    found = planned(BASE.replace("2 EUR/kg", "2 CHF/kg"))
    assert found.value("cost_batch") is None
    assert any("CHF and EUR" in t for t in found.untold)


def test_a_plan_is_json_and_every_line_has_a_source():
    found = planned()
    assert json.loads(json.dumps(found.as_json()))["sheet"] == "Smoked beet and barley roll"
    for line in found.predictions:
        assert line.source
        assert line.value is None or math.isfinite(line.value)
    assert all(t.source and t.do for t in found.troubles)


@pytest.mark.parametrize(
    ("low_share", "high_share", "weight", "says"),
    [
        (0.2, 0.5, "will not work", "longest dwell"),
        (0.2, 0.9, "mind", "may not set the skin"),
        (0.9, 1.5, "mind", "shortest dwell"),
        (1.01, 1.5, None, ""),
    ],
)
def test_the_sheets_window_is_compared_with_the_long_end_of_the_needed_dwell(
    low_share, high_share, weight, says
):
    """0.5 of the long end is less than the likely dwell, 0.9 is more."""
    (needed,) = [p for p in planned().predictions if p.name == "needed_dwell_s"]
    assert 0.5 * needed.high < needed.value < 0.9 * needed.high
    window = f'low = "{low_share * needed.high:.1f} s", high = "{high_share * needed.high:.1f} s"'
    found = planned(BASE.replace('low = "5 min", high = "10 min"', window))
    told = {w: [t for t in troubles(found, w) if "dwell" in t] for w in ("will not work", "mind")}
    if weight is not None:
        assert any(says in t for t in told.pop(weight))
    assert not any(told.values())

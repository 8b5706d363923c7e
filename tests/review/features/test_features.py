"""Numbers are read off traces of known shape, with their place and uncertainty, or their lack."""

import math
from dataclasses import replace

import pytest

from logger.model.finding import Finding
from logger.model.reading import Flag
from logger.review.features.feature import SPECS
from logger.review.features.features import features
from logger.review.features.portrait import portrait
from logger.review.why.evidence import feature_text
from tests.review.features.known import POUR, TRACES, facts, melting, trace


def test_temperatures_at_the_pour_are_those_just_before_it():
    found = features(facts())
    fat, water = found["fat_at_pour_c"], found["water_at_pour_c"]
    assert (fat.value, water.value) == pytest.approx((54.0, 49.0))
    assert fat.u == pytest.approx(0.25)
    assert fat.span.channel == "fat"
    assert 985.0 < fat.span.from_s < fat.span.to_s < 1000.0
    apart = found["fat_above_water_k"]
    assert apart.value == pytest.approx(5.0)
    assert apart.u == pytest.approx(math.hypot(0.25, 0.25))


def test_the_predicted_mixture_is_the_heat_balance():
    """180 g at 105 g/min take 103 s; 516 g 28 K above the air lose 1.02 W/K (typical,
    unverified), by Newton's law of cooling of fat and water phase."""
    found = features(facts())
    water = (330 * 4.18 + 6 * 1.5) + 412 * 0.50  # phase and its bowl
    fat = 180 * 2.09
    capacity = 330 * 4.18 + 6 * 1.5 + 180 * 2.09
    cooled = 180.0 / 105.0 * 60.0 * (516.0 / 500.0) ** (2.0 / 3.0) / capacity
    lost_j = capacity * 28.0 * (1.0 - math.exp(-cooled))
    by_hand = (fat * 54 + water * 49 - lost_j) / (fat + water)
    assert found["mix_predicted_c"].value == pytest.approx(by_hand, abs=2e-3)
    assert found["mix_miss_k"].value == pytest.approx(51.0 - by_hand, abs=2e-3)


def test_the_plateau_of_melting_is_found_and_none_where_there_is_none():
    assert features(facts())["melting_plateau_c"].value == pytest.approx(34.0, abs=0.3)
    steady = {**TRACES, "fat": trace(lambda t: min(54.0, 20.0 + 0.1 * t))}
    assert features(facts(steady))["melting_plateau_c"].value is None
    assert "no plateau" in features(facts(steady))["melting_plateau_c"].missing


def test_time_since_the_fat_was_melted():
    """36 degC, the melting limit of cocoa butter, is passed 10 s after the stand ends at 260 s."""
    assert features(facts())["melt_to_pour_s"].value == pytest.approx(1000.0 - 270.0, abs=1.0)


def test_two_probes_in_one_bowl_are_compared():
    assert features(facts())["probes_apart_k"].value == pytest.approx(0.5)
    assert features(facts())["fat_probe_apart_k"].value == pytest.approx(3.0)  # 54 and 51 degC
    swapped = {**TRACES, "fat": TRACES["emulsion"]}
    assert features(facts(swapped))["fat_probe_apart_k"].value == 0.0


def test_the_pour_gives_rate_share_of_fat_and_unevenness():
    found = features(facts())
    assert found["pour_rate_g_min"].value == 120.0
    assert found["fat_fraction_percent"].value == pytest.approx(100 * 180 / 516)
    assert found["pour_uneven_percent"].value == pytest.approx(0.0, abs=0.1)
    jerky = {
        **TRACES,
        "bowl_scale": trace(lambda t: 753.0 + 2.0 * min(max(t - 1000.0, 0.0), 90.0)
                            + 6.0 * math.sin(t / 4.0), u=0.2),
    }  # fmt: skip
    assert features(facts(jerky))["pour_uneven_percent"].value > 20.0


def test_what_was_weighed_counts_for_the_share_of_fat():
    weighings = [{"ingredient": "smoked beet stock", "phase": "", "mass_g": 660.0}]
    found = features(facts(weighings=weighings))
    assert found["fat_fraction_percent"].value == pytest.approx(100 * 180 / (180 + 660 + 6))


def test_dwells_that_cannot_be_told_are_left_out():
    rows = [
        {"piece": 1, "channel": "bath_scale", "in_s": 1400.0, "out_s": 1900.0, "dwell_s": 500.0,
         "confidence": 0.97, "set_fraction": 0.98, "mass_in_g": 73.0},
        {"piece": 2, "channel": "bath_scale", "in_s": 1420.0, "out_s": 1500.0, "dwell_s": 80.0,
         "confidence": 0.2, "set_fraction": 0.5, "mass_in_g": 71.0},
    ]  # fmt: skip
    found = features(facts(immersions=rows))
    assert found["dwell_shortest_s"].value == 500.0
    for name in ("dwell_shortest_s", "dwell_longest_s"):
        assert found[name].among == "from the 1 of 2 pieces that are certain"
    assert "longest dwell 8 min 20 s (from the 1 of 2 pieces that are certain)" in feature_text(
        replace(found["dwell_longest_s"], u=math.nan)
    )
    sure = [row | {"confidence": 0.97} for row in rows]
    assert features(facts(immersions=sure))["dwell_longest_s"].among == ""
    assert found["set_fraction_percent"].value == pytest.approx(98.0)
    assert found["piece_in_g"].value == pytest.approx(72.0)
    assert found["bath_start_g"].value == pytest.approx(2617.0)
    assert found["bath_c"].value == pytest.approx(19.5)
    assert found["dwell_mean_s"].value == pytest.approx(290.0)
    unsure = features(facts(immersions=rows[1:]))
    assert unsure["dwell_shortest_s"].value is None
    assert "can't tell" in unsure["dwell_shortest_s"].missing


def test_readings_that_may_not_be_judged_make_no_number():
    late = {**TRACES, "fat": trace(melting, flags=int(Flag.LATE))}
    found = features(facts(late))
    assert found["fat_at_pour_c"].value is None
    assert found["fat_above_water_k"].value is None
    assert "no fat readings" in found["fat_at_pour_c"].missing


def test_a_run_without_results_says_what_is_missing_of_every_number():
    found = features(facts(stages=[], pours=[]))
    assert found
    for feature in found.values():
        assert feature.value is not None or feature.missing
    assert found["pour_rate_g_min"].missing == "no pour was seen"


def test_every_number_has_a_unit_a_label_and_an_ordinary_spread():
    assert len({s.name for s in SPECS}) == len(SPECS)
    for spec in SPECS:
        assert spec.label
        assert spec.unit
        assert spec.least > 0.0


def test_a_group_that_was_not_weighed_in_is_told_only_where_something_was():
    assert portrait(facts()).unweighed == frozenset()
    weighed = portrait(
        facts(weighings=[{"ingredient": "cocoa butter", "phase": "", "mass_g": 180.0}])
    )
    assert "salt" in weighed.unweighed
    assert "fat" not in weighed.unweighed


def test_gaps_are_a_share_of_all_channels():
    gaps = [{"channel": "fat", "from_s": 0.0, "to_s": 199.0, "why": "unplugged"}]
    found = features(facts(gaps=gaps))["gap_percent"]
    assert found.value == pytest.approx(100 * 199 / (6 * 1990))


def test_a_number_carries_the_uncertainty_that_it_was_judged_with():
    def judged(key, unit, expanded):
        return Finding(
            key=key,
            check="whatever it is called",
            stage="combine",
            verdict="met",
            value=1.0,
            unit=unit,
            expanded_uncertainty=expanded,
        )

    found = features(facts(findings=[judged("emulsify.pour_rate_g_min", "g/min", 12.0)]))
    assert found["pour_rate_g_min"].u == pytest.approx(6.0)
    assert features(facts(findings=[]))["poured_g"].u == pytest.approx(0.3), "was not judged"


def test_of_two_stages_with_pours_the_larger_pour_counts():
    small = POUR | {"stage": "warm", "mass_g": 20.0, "rate_g_per_min": 30.0}
    for pours in ([small, POUR], [POUR, small]):
        assert features(facts(pours=pours))["pour_rate_g_min"].value == 120.0


def test_a_pour_and_a_weighing_of_unknown_uncertainty_keep_it_unknown():
    """Judged without an uncertainty: that of the scale is not set, and nothing stands for it."""
    poured = Finding(
        key="emulsify.poured_g", check="", stage="combine", verdict="undecided", value=180.0
    )
    weighings = [{"ingredient": "smoked beet stock", "phase": "", "mass_g": 330.0}]
    found = features(facts(findings=[poured], weighings=weighings))
    for name in ("poured_g", "pour_rate_g_min", "fat_fraction_percent"):
        assert found[name].value is not None
        assert math.isnan(found[name].u), name


def test_coats_and_pieces_give_their_smallest_and_largest_beside_the_mean():
    """Coats of 0.6, 0.7 and 1.1 mm: their mean of 0.8 mm lies in a band that one is out of."""
    pieces = [
        {"piece": k, "coat_mm": mm, "coat_mass_g": 10.0 * mm, "bare_mass_g": 60.0 + k}
        for k, mm in ((1, 0.6), (2, 1.1), (3, 0.7))
    ]
    found = features(facts(pieces=pieces))
    names = ("coat_mm", "coat_thinnest_mm", "coat_thickest_mm")
    assert [found[n].value for n in names] == pytest.approx([0.8, 0.6, 1.1])
    names = ("coat_g", "coat_lightest_g", "coat_heaviest_g")
    assert [found[n].value for n in names] == pytest.approx([8.0, 6.0, 11.0])
    assert features(facts())["coat_thickest_mm"].missing == "no coat was weighed"
    # Standard deviation of three: sqrt((0.04 + 0.01 + 0.09) / 2) mm of 0.8 mm.
    assert found["coat_spread_percent"].value == pytest.approx(100.0 * math.sqrt(0.07) / 0.8)
    assert found["coat_spread_percent"].u == 1.0
    two = features(facts(pieces=pieces[:2]))["coat_spread_percent"]
    assert two.missing == "fewer than three coats were weighed"


def test_pieces_that_only_the_bath_saw_are_pieces_too_with_what_is_surely_theirs():
    rows = [
        {"stage": "skin", "immersion": k, "piece": k, "dwell_s": 480.0 + k, "confidence": sure}
        for k, sure in ((1, 0.9), (2, 0.9), (3, 0.4))
    ]
    pieces = portrait(facts(pieces=[{"piece": 1, "coat_mm": 0.6}], immersions=rows)).pieces
    assert [(p.piece, p.coat_mm, p.dwell_s) for p in pieces] == [
        (1, 0.6, None), (2, None, 482.0), (3, None, None)
    ]  # fmt: skip

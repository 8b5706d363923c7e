"""Each number at its limits, worked by hand from traces of known shape."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.finding import Finding
from logger.review.features import facts as facts_room
from logger.review.features.feature import SPECS
from logger.review.features.features import features
from logger.review.learn.sheets import template
from tests.review.features.known import POUR, STAGES, TRACES, facts, trace


class Run:
    """A view of a run that was said to be one thing or the other, with a defect of a piece."""

    def __init__(self, outcome):
        self.said = SimpleNamespace(outcome=outcome, defects=("grainy",))
        self.header = SimpleNamespace(run_id="r")

    def outcome(self):
        return self.said

    def sheet(self):
        return facts().sheet

    def bench(self):
        return facts().bench

    def events(self):
        return [Event(t_ns=1, kind="outcome_piece", source="operator", data={})]


@pytest.mark.parametrize(
    ("outcome", "defects"), [("rejected", ("grainy", "burst")), ("accepted", ("grainy",))]
)
def test_the_defects_of_pieces_are_those_of_a_rejected_batch(monkeypatch, outcome, defects):
    monkeypatch.setattr(facts_room, "piece_defects", lambda events: {3: ("burst", "grainy")})
    found = facts_room.facts_of(Run(outcome), facts().results, {})
    assert found.defects == defects
    assert found.piece_defects == {3: ("burst", "grainy")}


def test_a_window_holds_both_ends_and_needs_a_length():
    here = facts()
    window = here.window("fat", 10.0, 12.0)
    assert (window.t_s[0], window.t_s[-1], window.t_s.size) == (10.0, 12.0, 11)
    assert here.window("fat", 10.0, 10.0) is None
    assert here.window("core", 10.0, 12.0) is None


def test_a_gap_that_never_ended_lasts_to_the_end_of_the_last_stage():
    gaps = [{"channel": "fat", "from_s": 1000.0, "to_s": None, "why": "unplugged"},
            {"channel": "fat", "from_s": 100.0, "to_s": 200.0, "why": "unplugged"}]  # fmt: skip
    found = features(facts(gaps=gaps))["gap_percent"]
    assert found.value == pytest.approx(100 * (990 + 100) / (6 * 1990))
    assert features(facts(stages=[], gaps=gaps))["gap_percent"].missing == "no stage has ended"


def test_a_temperature_and_a_difference_may_be_below_nought_and_a_mass_may_not():
    lowest = {spec.name: spec.lowest for spec in SPECS}
    for name in ("fat_at_pour_c", "fat_above_water_k", "salt_off_percent"):
        assert lowest[name] == -math.inf, name
    for name in ("coat_g", "coat_spread_percent", "dwell_mean_s"):
        assert lowest[name] == 0.0, name


def test_a_number_is_json_with_nothing_for_an_unknown_uncertainty():
    found = features(facts())["fat_at_pour_c"]
    assert found.as_json()["u"] == pytest.approx(0.25)
    assert found.as_json()["value"] == pytest.approx(54.0)
    assert replace(found, u=math.nan).as_json()["u"] is None


def test_the_loss_in_drying_is_taken_as_it_was_judged():
    lost = Finding(key="dry.lost_percent", check="mass lost", stage="air", verdict="met",
                   value=1.5, expanded_uncertainty=0.2, channel="bench_scale", from_s=5.0,
                   to_s=9.0)  # fmt: skip
    sheet = sheet_from_text(template() + '\n[[stage]]\nid = "air"\nkind = "dry"\n', "s")
    found = features(replace(facts(findings=[lost]), sheet=sheet))["dry_loss_percent"]
    assert (found.value, found.u) == (1.5, pytest.approx(0.1))
    assert found.span == ("bench_scale", 5.0, 9.0)
    none = features(replace(facts(findings=[replace(lost, value=None)]), sheet=sheet))
    assert none["dry_loss_percent"].missing == "the loss was not measured"
    assert features(replace(facts(), sheet=sheet))["dry_loss_percent"].value is None


WEIGHED = [
    {"ingredient": i.name, "phase": i.phase, "mass_g": i.mass_g * 1.02,
     "expanded_uncertainty_g": 0.01 * i.mass_g}
    for i in sheet_from_text(template(), "s").ingredient
]  # fmt: skip


def test_each_group_is_off_by_what_was_weighed_beyond_the_sheet():
    """All 2 % too much; of one ingredient the standard uncertainty is half of 1 %."""
    found = features(facts(weighings=WEIGHED))
    off = {name: f for name, f in found.items() if name.endswith("_off_percent")}
    assert {"fat_off_percent", "water_off_percent", "binder_off_percent"} <= set(off)
    for name, feature in off.items():
        assert feature.value == pytest.approx(2.0), name
    assert off["fat_off_percent"].u == pytest.approx(0.5)
    unsure = features(facts(weighings=[row | {"confidence": 0.1} for row in WEIGHED]))
    assert "can't tell which load" in unsure["fat_off_percent"].missing
    none = features(facts(weighings=WEIGHED[1:]))
    assert none["fat_off_percent"].missing.endswith("was not weighed in")


def test_the_length_of_a_stage_is_from_its_start_to_its_end():
    assert features(facts())["hydrate_s"].value == 20.0
    assert features(facts())["warm_s"].value == 970.0
    running = [*STAGES[:1], STAGES[1] | {"end_s": None}, *STAGES[2:]]
    found = features(facts(stages=running))
    for name in ("warm_s", "fat_highest_c", "melting_plateau_c", "melt_to_pour_s"):
        assert found[name].missing == "the end of the warming was not recorded"


@pytest.mark.parametrize(
    ("stand_s", "there"), [(28.0, False), (30.0, True), (60.0, True)]
)  # at 1 K/s one second of the rise lies within 1 K too
def test_a_plateau_needs_half_a_minute_within_one_kelvin(stand_s, there):
    def warming(t):
        if t < 50.0:
            return min(t - 14.9, 35.1)
        return min(54.0, 35.1 + max(0.0, t - 50.0 - stand_s))

    found = features(facts({**TRACES, "fat": trace(warming)}))["melting_plateau_c"]
    assert (found.value is not None) is there
    if there:
        assert found.value == pytest.approx(35.1, abs=0.1)
        assert found.u == pytest.approx(0.25)


def test_a_stand_near_the_end_of_the_warming_is_no_plateau():
    """The last 4 K below the end are where a thermostat holds."""
    for stand_c, there in ((51.5, False), (47.0, True)):
        slow = trace(lambda t, c=stand_c: min(c, 20 + 0.1 * t) if t < 700 else min(54, c + t - 700))
        found = features(facts({**TRACES, "fat": slow}))["melting_plateau_c"]
        assert (found.value is not None) is there, stand_c


def test_the_time_since_melting_needs_a_fat_that_melted_in_the_stage():
    hot = features(facts({**TRACES, "fat": trace(lambda t: 50.0)}))["melt_to_pour_s"]
    assert hot.missing == "the fat was melted when the stage began"
    cold = features(facts({**TRACES, "fat": trace(lambda t: 35.0)}))["melt_to_pour_s"]
    assert cold.missing == "the fat never reached its melting limit"
    assert features(facts(pours=[]))["melt_to_pour_s"].missing == "no pour was seen"
    seen = features(facts())["melt_to_pour_s"]
    assert (seen.span.from_s, seen.span.to_s) == pytest.approx((270.0, 1000.0), abs=1.0)


def test_the_uncertainty_of_the_predicted_mixture_weighs_each_phase_by_its_heat():
    """By the balance above, differentiated: what a kelvin of the water brings, the air takes part
    of while pouring."""
    fat, bowl = 180 * 2.09, 412 * 0.50
    poured = 330 * 4.18 + 6 * 1.5
    lost = 1.0 - math.exp(-180 / 105 * 60 * (516 / 500) ** (2 / 3) / (poured + fat))
    by_water = (poured + bowl - (poured + fat) * lost) / (fat + poured + bowl)
    found = features(facts())["mix_predicted_c"]
    by_hand = 0.25 * math.hypot(fat / (fat + poured + bowl), by_water)
    assert found.u == pytest.approx(by_hand, rel=2e-3)
    miss = features(facts())["mix_miss_k"]
    assert miss.u == pytest.approx(math.hypot(found.u, 0.25))


def test_the_figures_of_a_pour_carry_the_uncertainty_of_its_mass():
    """0.3 g of 180 g with 336 g of water phase: u = 0.3 * 336 / 516 ** 2; of the rate 1 %."""
    found = features(facts())
    assert found["poured_g"].value == 180.0
    assert found["fat_fraction_percent"].u == pytest.approx(100 * 0.3 * 336 / 516**2)
    assert found["pour_rate_g_min"].u == pytest.approx(1.2)
    small = features(facts(pours=[POUR | {"mass_g": 15.0}]))
    assert small["pour_rate_g_min"].u == pytest.approx(120.0 * 0.3 / 15.0)
    negative = features(facts(pours=[POUR | {"mass_g": -180.0, "rate_g_per_min": -120.0}]))
    assert (negative["poured_g"].value, negative["pour_rate_g_min"].value) == (180.0, 120.0)
    assert found["fat_lowest_c"].value == pytest.approx(54.0)
    assert found["mix_measured_c"].value == pytest.approx(51.0)
    assert found["probes_apart_k"].u == pytest.approx(math.hypot(0.25, 0.25))


def test_several_pours_of_a_stage_are_one_from_the_first_to_the_last():
    """120 g at 120 g/min and 60 g at 60 g/min flow for two minutes: 90 g/min."""
    one = POUR | {"stage": "combine", "mass_g": 120.0, "end_s": 1060.0}
    two = one | {"start_s": 1062.0, "end_s": 1122.0, "mass_g": 60.0, "rate_g_per_min": 60.0}
    found = features(facts(pours=[one, two]))
    assert found["poured_g"].value == 180.0
    assert found["pour_rate_g_min"].value == pytest.approx(90.0)
    assert (found["poured_g"].span.from_s, found["poured_g"].span.to_s) == (1000.0, 1122.0)
    assert found["pour_uneven_percent"].missing == "it came in 2 portions"
    dripped = features(facts(pours=[one, two | {"rate_g_per_min": None}]))
    assert "steadily enough" in dripped["pour_rate_g_min"].missing
    unsure = features(facts(pours=[one, two | {"open_g": 5.0}]))
    assert "can't tell whether" in unsure["poured_g"].missing
    assert "can't tell whether" in unsure["fat_fraction_percent"].missing


@pytest.mark.parametrize(("lasted_s", "there"), [(24.0, False), (26.0, True)])
def test_unevenness_needs_four_steps_of_five_seconds_in_the_middle_of_a_pour(lasted_s, there):
    """Four fifths of 25 s are four steps."""
    pour = POUR | {"end_s": 1000.0 + lasted_s, "mass_g": 2.0 * lasted_s}
    found = features(facts(pours=[pour]))["pour_uneven_percent"]
    assert (found.value is not None) is there
    assert there or "too short" in found.missing


def test_unevenness_is_the_robust_spread_of_the_rate():
    """Steps of 5 s at 1 and 3 g/s in turn: median 10 g, MAD 5 g, 1.4826 * 50 % = 74 %."""

    def saw(t):
        cycles, rest = divmod(t - 1003.0, 10.0)
        return 753.0 + 20.0 * cycles + (rest if rest < 5.0 else 5.0 + 3.0 * (rest - 5.0))

    pour = POUR | {"end_s": 1080.0}  # the middle four fifths begin after 8 s, at an edge
    found = features(facts({**TRACES, "bowl_scale": trace(saw, u=0.2)}, pours=[pour]))
    assert found["pour_uneven_percent"].value == pytest.approx(74.13, rel=1e-3)


def test_the_bath_is_weighed_right_before_the_first_piece_and_its_calcium_is_a_share():
    rows = [{"piece": 1, "channel": "bath_scale", "in_s": 1400.5, "out_s": None, "dwell_s": None}]
    ramp = {**TRACES, "bath_scale": trace(lambda t: t, u=0.2)}
    found = features(facts(ramp, immersions=rows, values={"bath_strength": 0.82}))
    assert found["bath_start_g"].value == pytest.approx(1397.0, abs=0.1)  # 6 s to 1 s before
    assert found["bath_left_percent"].value == pytest.approx(82.0)
    assert found["dwell_mean_s"].missing == "no piece was seen to leave the bath"
    assert "not worked out" in features(facts())["bath_left_percent"].missing


def test_the_shortest_and_longest_dwell_are_those_of_sure_pieces():
    rows = [
        {"piece": k, "channel": "bath_scale", "in_s": 1400.0 + k, "out_s": 1400.0 + k + dwell,
         "dwell_s": dwell, "confidence": sure, "set_fraction": share}
        for k, dwell, sure, share in
        ((1, 300.0, 0.81, 0.9), (2, 200.0, 0.8, 0.8), (3, 500.0, 0.79, 0.7), (4, 400.0, 0.9, 1.0))
    ]  # fmt: skip
    found = features(facts(immersions=rows))
    assert found["dwell_shortest_s"].value == 200.0
    assert found["dwell_longest_s"].value == 400.0
    assert found["dwell_longest_s"].span.to_s == 1804.0
    assert found["dwell_mean_s"].value == 350.0
    assert found["set_fraction_percent"].value == pytest.approx(80.0)
    assert found["piece_in_g"].missing == "no piece was weighed on its way in"


def test_a_core_is_read_near_the_end_and_a_spike_makes_no_highest_one():
    """Of 1000 s at 5 Hz the highest 0.5 % are 25 readings; the spike has 20. From 15 to 3 s before
    its end the core is at 69.55 degC in the middle."""
    text = template() + "".join(f'\n[[stage]]\nid = "{k}1"\nkind = "{k}"\n' for k in KINDS_ADDED)
    core = trace(lambda t: 99.0 if 500.0 <= t < 504.0 else 20.0 + 0.05 * t, end_s=1200.0)
    ran = [{"id": f"{k}1", "kind": k, "start_s": 0.0, "end_s": 1000.0} for k in KINDS_ADDED]
    here = facts({**TRACES, "core": core}, stages=[*STAGES, *ran])
    found = features(replace(here, sheet=sheet_from_text(text, "s")))
    assert found["core_highest_c"].value == pytest.approx(69.9, abs=0.05)
    assert found["cook_s"].value == 1000.0
    assert found["core_after_chill_c"].value == pytest.approx(69.55, abs=0.02)
    never = features(replace(here, results=facts().results, sheet=sheet_from_text(text, "s")))
    assert never["cook_s"].missing == "the stage was not completed"
    assert "no core readings at the end" in never["core_after_chill_c"].missing


KINDS_ADDED = ("cook", "chill")

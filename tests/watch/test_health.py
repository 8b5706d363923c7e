"""Sensor health: silence, gaps, stuck values, tares, exchanged probes."""

import datetime
import random

import pytest

from logger.correct.channel import Corrector
from logger.model.bench import Correction
from logger.model.event import Event
from logger.model.files import bench_from_text
from logger.model.reading import Flag, Reading
from logger.watch.engine import SECOND_NS, Engine
from logger.watch.probechecks import sentences

S = SECOND_NS
PROBES = """
[bench]
name = "Table 2"
[[instrument]]
id = "probes"
port = "none"
shape = "comma list of probes"
[[instrument]]
id = "scale"
port = "none"
shape = "flag-first scale"
[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
[[channel]]
id = "water"
instrument = "probes"
field = "t2"
role = "water"
[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"
"""


@pytest.fixture
def bench():
    return bench_from_text(PROBES, "bench.toml")


class Run:
    """A run in which each channel is a function of time, or silent."""

    def __init__(self, sheet, bench):
        self.engine = Engine(sheet, bench, correctors={})
        self.said = []
        self.t_s = 0.0
        self.noise = random.Random(4)
        self.feed([Event(t_ns=0, kind="run_start", source="operator")])

    def feed(self, items):
        self.said += self.engine.feed(items, round(self.t_s * S))

    def play(self, seconds, *, rate_hz=10, flags=None, **values):
        """Play a time; a channel that is not named, or gives None without flags, is silent."""
        flags = flags or {}
        items = []
        for k in range(int(seconds * rate_hz)):
            t_s = self.t_s + (k + 1) / rate_hz
            for channel, what in values.items():
                value = what(t_s) if callable(what) else what
                if value is not None or channel in flags:
                    reading = Reading(channel, round(t_s * S), value, 0.3, flags.get(channel, 0))
                    items.append(reading)
        self.t_s += seconds
        self.feed(items)

    def jitter(self, level, sigma=0.05, digits=2):
        return lambda t_s: round(level + self.noise.gauss(0.0, sigma), digits)

    def kinds(self, *wanted):
        return [(e.kind, e.channel) for e in self.said if e.kind in wanted]

    def channel(self, channel_id):
        state = self.engine.state(round(self.t_s * S))
        return next(c for c in state.channels if c.id == channel_id)

    def alarms(self):
        return {a["id"]: a for a in self.engine.state(round(self.t_s * S)).alarms}


@pytest.fixture
def run(roll_sheet, bench):
    return Run(roll_sheet, bench)


def all_three(run):
    return {"fat": run.jitter(52), "water": run.jitter(48), "bath_scale": run.jitter(900, 0.02, 1)}


def test_a_silent_channel_is_stale_then_a_gap_when_it_speaks_again(run):
    channels = all_three(run)
    run.play(20, **channels)
    silent = {k: v for k, v in channels.items() if k != "fat"}
    run.play(10, **silent)
    assert run.kinds("stale", "gap") == [("stale", "fat")]
    assert run.channel("fat").status == "stale"
    assert run.channel("fat").value is None
    assert run.channel("water").status == "live"
    run.play(5, **channels)
    assert run.kinds("stale", "gap") == [("stale", "fat"), ("gap", "fat")]
    [gap] = run.engine.results().gaps
    assert gap == {
        "channel": "fat",
        "from_s": 20.0,
        "to_s": pytest.approx(30.1),
        "why": "no readings",
    }
    assert run.channel("fat").status == "live"


def test_a_stall_that_usb_bridges_are_known_for_is_no_gap(run):
    """Bridges hold lines back for up to 0.25 s at 10 Hz."""
    channels = all_three(run)
    run.play(20, **channels)
    run.t_s += 0.25
    run.play(20, **channels)
    assert run.kinds("stale", "gap") == []


def test_a_short_silence_between_two_seconds_is_a_gap_too(run):
    channels = all_three(run)
    run.play(20.1, **channels)
    run.t_s += 0.5
    run.play(5, **channels)
    assert sorted(c for _, c in run.kinds("gap")) == ["bath_scale", "fat", "water"]


def test_readings_without_a_value_are_a_gap_with_their_reason(run):
    channels = all_three(run)
    run.play(20, **channels)
    run.play(10, flags={"fat": int(Flag.OPEN)}, **{**channels, "fat": None})
    assert run.channel("fat").status == "open"
    assert run.channel("fat").value is None
    assert "probe is open" in run.alarms()["fat.stale"]["text"]
    run.play(2, **channels)
    assert [g["why"] for g in run.engine.results().gaps] == ["open probe"]


def test_a_gap_that_is_still_open_ends_with_the_run(run):
    channels = all_three(run)
    run.play(20, **channels)
    run.play(10, fat=channels["fat"], water=channels["water"])
    results = run.engine.finish(30 * S)
    assert [(g["channel"], g["to_s"]) for g in results.gaps] == [("bath_scale", 30.0)]


def test_silence_of_a_channel_the_stage_needs_is_an_alarm_that_sounds(run):
    channels = all_three(run)
    run.feed([Event(t_ns=0, kind="next", source="operator")])
    run.play(20, **channels)
    run.play(5, bath_scale=None, fat=channels["fat"])
    alarms = run.alarms()
    assert alarms["water.stale"]["sounds"]
    assert not alarms["bath_scale.stale"]["sounds"]


def test_a_channel_that_never_speaks_is_told(run):
    run.play(20, fat=run.jitter(52), water=run.jitter(48))
    assert run.kinds("stale") == [("stale", "bath_scale")]
    assert run.channel("bath_scale").status == "stale"


def test_a_lively_probe_whose_value_freezes_is_stuck(run):
    channels = all_three(run)
    run.play(60, **channels)
    run.play(58, **{**channels, "fat": 52.0})
    assert run.kinds("stuck") == []
    run.play(5, **{**channels, "fat": 52.0})
    assert run.kinds("stuck") == [("stuck", "fat")]
    assert run.channel("fat").status == "stuck"
    assert "fat.stuck" in run.alarms()
    run.play(2, **channels)
    assert run.channel("fat").status == "live"


def test_a_cooling_probe_with_a_coarse_display_that_stops_while_others_go_on_is_stuck(run):
    def cooling(start):
        return lambda t_s: round((start - t_s / 20) * 4) / 4

    run.play(120, fat=cooling(60), water=cooling(55.1))
    run.play(70, fat=54.0, water=cooling(55.1))
    assert run.kinds("stuck") == [("stuck", "fat")]


def test_a_bath_that_rests_between_two_display_steps_is_not_stuck(run):
    """A display of 0.25 K and a calm bath: minutes without a change are nothing special."""
    run.play(60, fat=lambda t: round((60 - t / 20) * 4) / 4, water=18.25)
    run.play(300, fat=lambda t: round((60 - t / 20) * 4) / 4, water=18.25)
    assert run.kinds("stuck") == []


def test_a_plunge_into_a_calm_bath_with_a_coarse_display_is_not_stuck(run):
    def plunged(t_s):
        return round((20.1 + 30 * max(0.0, 1 - max(0.0, t_s - 60) / 4)) * 4) / 4

    run.play(300, fat=lambda t: round((60 - t / 20) * 4) / 4, water=plunged)
    assert run.kinds("stuck") == []


def test_a_scale_with_nothing_happening_on_it_is_not_stuck(run):
    channels = all_three(run)
    run.play(300, **{**channels, "bath_scale": 900.0})
    assert run.kinds("stuck") == []


def test_a_board_that_repeats_one_line_is_stuck_as_a_whole(run):
    def dithering(level):
        return lambda t_s: level + 0.25 * (run.noise.random() < 0.5)

    run.play(60, fat=dithering(52), water=dithering(48), bath_scale=run.jitter(900, 0.02, 1))
    run.play(65, fat=52.0, water=48.0, bath_scale=run.jitter(900, 0.02, 1))
    assert sorted(run.kinds("stuck")) == [("stuck", "fat"), ("stuck", "water")]


def test_a_rate_drop_is_told_once(run):
    channels = all_three(run)
    run.play(60, **channels)
    run.play(90, rate_hz=2, **channels)
    assert sorted(run.kinds("rate_drop")) == [
        ("rate_drop", "bath_scale"),
        ("rate_drop", "fat"),
        ("rate_drop", "water"),
    ]
    assert run.channel("fat").rate_hz == pytest.approx(2.0)
    gaps = [g for g in run.engine.results().gaps if g["channel"] == "fat"]
    assert len(gaps) == 1, "slow readings that touch are one gap, not one each"


def test_a_tare_shown_by_the_net_flag_is_suspected_with_its_offset(run):
    scale = run.jitter(742.0, 0.02, 1)
    run.play(20, fat=52.0, bath_scale=scale)
    run.play(3, fat=52.0, flags={"bath_scale": int(Flag.NET)}, bath_scale=run.jitter(0, 0.02, 1))
    [event] = [e for e in run.said if e.kind == "tare_suspected"]
    assert event.channel == "bath_scale"
    assert event.data["offset_g"] == pytest.approx(742.0, abs=0.2)
    assert event.data["by_flag"] is True


def test_a_jump_of_the_bath_scale_to_zero_that_holds_is_suspected_to_be_a_tare(run):
    run.play(20, fat=52.0, bath_scale=run.jitter(742.0, 0.05, 1))
    run.play(3, fat=52.0, bath_scale=run.jitter(0, 0.02, 1))
    [event] = [e for e in run.said if e.kind == "tare_suspected"]
    assert event.data["by_flag"] is False


def test_a_piece_put_into_the_bath_is_no_tare(run):
    run.play(20, fat=52.0, bath_scale=run.jitter(742.0, 0.05, 1))
    run.play(20, fat=52.0, bath_scale=run.jitter(823.0, 0.05, 1))
    assert run.kinds("tare_suspected") == []


def test_a_touch_that_passes_zero_is_no_tare(run):
    run.play(20, fat=52.0, bath_scale=run.jitter(40.0, 0.05, 1))
    run.play(0.3, fat=52.0, bath_scale=0.0)
    run.play(20, fat=52.0, bath_scale=run.jitter(40.0, 0.05, 1))
    assert run.kinds("tare_suspected") == []


def test_probes_that_come_back_exchanged_after_a_replug_are_told(run):
    run.play(30, fat=run.jitter(55), water=run.jitter(45))
    run.t_s += 5.0
    run.play(5, fat=run.jitter(45), water=run.jitter(55))
    assert run.kinds("exchange_suspected") == [("exchange_suspected", "fat")]
    assert "fat.water.exchanged" in run.alarms()


def test_probes_that_come_back_as_they_were_are_not_said_to_be_exchanged(run):
    run.play(30, fat=run.jitter(55), water=run.jitter(45))
    run.t_s += 5.0
    run.play(5, fat=run.jitter(54.6), water=run.jitter(45.2))
    assert run.kinds("exchange_suspected") == []


@pytest.mark.parametrize(
    ("temps_c", "warned"),
    [((22.0, 22.4, 22.6), False), ((22.0, 22.6, 23.2), True), ((47.0,), True), ((4.0,), True)],
)
def test_a_cold_junction_that_drifts_or_leaves_its_range_is_told(run, temps_c, warned):
    """More than 1 K in 10 min, or outside 5 to 45 degC (common practice, no source)."""
    for temp_c in temps_c:
        run.play(100, fat=run.jitter(55))
        told = Event(
            t_ns=round(run.t_s * S),
            kind="cold_junction",
            source="bench",
            port="probes",
            data={"temp_c": temp_c},
        )
        run.feed([told])
    run.play(5, fat=run.jitter(55))
    assert ("probes.cold_junction" in run.alarms()) is warned


def test_a_unit_switched_on_the_instrument_is_shown_beside_the_channel(run):
    run.play(5, **all_three(run))
    run.feed(
        [
            Event(
                t_ns=5 * S, kind="unit_change", source="bench", channel="bath_scale", text="g to oz"
            )
        ]
    )
    assert run.channel("bath_scale").says == "g to oz"


def test_an_untrusted_port_has_no_live_value(run):
    run.play(10, flags={"fat": int(Flag.UNTRUSTED)}, fat=52.0)
    run.play(10, flags={"fat": int(Flag.UNTRUSTED)}, fat=52.0)
    assert run.channel("fat").status == "untrusted"
    assert run.channel("fat").value is None


def checked(bench, **dates):
    """Return correctors of a day in 2026 for channels with checks of these dates."""
    channels = [
        c.model_copy(update={"correction": Correction.model_validate(dates[c.id])})
        if c.id in dates
        else c
        for c in bench.channel
    ]
    return {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in channels}


def test_overdue_and_missing_checks_are_in_the_state_and_in_the_results(roll_sheet, bench):
    correctors = checked(
        bench,
        fat={"offset": "0.1 K", "checked": "2025-10-11", "by": "ice point"},
        water={"offset": "0.1 K", "checked": "2026-11-24", "by": "ice point"},
    )
    engine = Engine(roll_sheet, bench, correctors=correctors)
    before = {c.id: (c.check, c.checked) for c in engine.state(0).channels}
    engine.feed([Event(t_ns=0, kind="run_start", source="operator")], 10 * S)
    state = engine.state(10 * S)
    assert {c.id: (c.check, c.checked) for c in state.channels} == before == {
        "fat": ("overdue", "checked 410 days ago; check it in ice water"),
        "water": ("good", "checked yesterday"),
        "bath_scale": ("never", "never checked"),
    }  # fmt: skip
    assert not [a for a in state.alarms if "check" in a["text"]]
    rows = {r["channel"]: r for r in engine.finish(10 * S).sensors}
    assert rows["fat"]["overdue_days"] == 320
    assert (rows["water"]["checked"], rows["water"]["overdue_days"]) == ("2026-11-24", 0)
    assert sentences(rows.values()) == [
        "Fat: checked 410 days ago; check it in ice water.",
        "Never checked: Bath scale.",
    ]


def test_without_correctors_nothing_is_said_of_checks(run):
    run.play(5, **all_three(run))
    assert run.channel("fat").check == "unknown"
    assert run.engine.results().sensors == []

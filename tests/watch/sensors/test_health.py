"""Sensor health: silence, gaps, rates, tares, checks."""

import datetime

import pytest

from logger.correct.channel import Corrector
from logger.model.bench import Correction
from logger.model.event import Event
from logger.model.files import bench_from_text
from logger.model.reading import Flag
from logger.model.rows import GapRow
from logger.watch.engine.engine import Engine
from logger.watch.sensors.probechecks import sentences
from tests.watch.three_channels import PROBES, S, ThreeChannels, all_three


@pytest.fixture
def bench():
    return bench_from_text(PROBES, "bench.toml")


@pytest.fixture
def run(roll_sheet, bench):
    return ThreeChannels(roll_sheet, bench)


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
    assert gap == GapRow(channel="fat", from_s=20.0, to_s=pytest.approx(30.1), why="no readings")
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
    assert "open circuit" in run.alarms()["fat.stale"].text
    run.play(2, **channels)
    assert [g.why for g in run.engine.results().gaps] == ["open circuit"]


def test_a_gap_that_is_still_open_ends_with_the_run(run):
    channels = all_three(run)
    run.play(20, **channels)
    run.play(10, fat=channels["fat"], water=channels["water"])
    results = run.engine.finish(30 * S)
    assert [(g.channel, g.to_s) for g in results.gaps] == [("bath_scale", 30.0)]


def test_silence_of_a_channel_the_stage_needs_is_an_alarm_that_sounds(run):
    channels = all_three(run)
    run.feed([Event(t_ns=0, kind="next", source="operator")])
    run.play(20, **channels)
    run.play(5, bath_scale=None, fat=channels["fat"])
    alarms = run.alarms()
    assert alarms["water.stale"].sounds
    assert not alarms["bath_scale.stale"].sounds


def test_a_channel_that_never_speaks_is_told(run):
    run.play(20, fat=run.jitter(52), water=run.jitter(48))
    assert run.kinds("stale") == [("stale", "bath_scale")]
    assert run.channel("bath_scale").status == "stale"


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
    assert run.channel("fat").u_expanded == pytest.approx(0.6)
    told = next(e for e in run.said if e.kind == "rate_drop" and e.channel == "fat")
    assert told.data["every_s"] == pytest.approx(0.5)
    gaps = [g for g in run.engine.results().gaps if g.channel == "fat"]
    assert len(gaps) == 1, "slow readings that touch are one gap, not one each"
    assert gaps[0].to_s - gaps[0].from_s <= 3.0, "three slow readings are the pace"


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
    assert not [a for a in state.alarms if "check" in a.text]
    rows = {r.channel: r for r in engine.finish(10 * S).sensors}
    assert rows["fat"].overdue_days == 320
    assert (rows["water"].checked, rows["water"].overdue_days) == ("2026-11-24", 0)
    assert sentences(rows.values()) == [
        "Fat: checked 410 days ago; check it in ice water.",
        "Sensors never checked: Bath scale.",
    ]


def test_without_correctors_nothing_is_said_of_checks(run):
    run.play(5, **all_three(run))
    assert run.channel("fat").check == "unknown"
    assert run.engine.results().sensors == []


@pytest.mark.parametrize("kind", ["go_on", "resumed"])
def test_what_was_silent_while_nothing_was_recorded_is_no_alarm(run, kind):
    """The stage needs the fat probe: its silence would stay until somebody acknowledges it."""
    run.feed([Event(t_ns=0, kind="next", source="operator")])
    channels = all_three(run)
    run.play(20, **channels)
    run.t_s += 120
    goes_on = Event(t_ns=round(run.t_s * S), kind=kind, source="recorder", data={"missed_s": 120.0})
    run.feed([goes_on])
    run.play(10, **channels)
    assert run.alarms() == {}
    (stage,) = [s for s in run.state.stages if s.start_s is not None]
    assert stage.paused_s == (120.0 if kind == "go_on" else 0.0)
    run.play(20, **{**channels, "fat": None})
    assert "fat.stale" in run.alarms()

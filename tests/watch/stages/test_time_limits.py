"""Time limits of stages, just before and right at them, counted from the start of the stage."""

import pytest

from logger.model.reading import Reading
from logger.watch.engine.registry import make
from logger.watch.stages.hold.watcher import SOON_S

S = 1_000_000_000
START_S = 100
BINDER = '[[ingredient]]\nname = "binder"\nphase = "water"\nsubstance = "binder"\nmass = "12 g"\n'


def watch(make_context, kind, band, more=""):
    text = f'[sheet]\nname = "R"\n{BINDER}[[stage]]\nid = "x"\nkind = "{kind}"\n{band}\n{more}'
    context = make_context("x", sheet=text, start_s=START_S)
    return make(context), context.out


def at(watcher, elapsed_s):
    """The view after so long in the stage."""
    t_ns = round((START_S + elapsed_s) * S)
    watcher.tick(t_ns)
    return watcher.view(t_ns)


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        ("rinse", "dwell"),
        ("work", "time"),
        ("hydrate", "time"),
        ("hold", "time"),
        ("chill", "time"),
    ],
)
def test_a_stage_has_had_its_time_from_the_second_it_is_over(make_context, kind, key):
    watcher, _ = watch(make_context, kind, f'{key} = {{ low = "1 min" }}')
    at(watcher, 59.9)
    assert watcher.finished() is None
    at(watcher, 60.0)
    assert watcher.finished()
    without, _ = watch(make_context, kind, f'{key} = {{ high = "1 min" }}')
    at(without, 100.0)
    assert without.finished() is None


@pytest.mark.parametrize(
    ("kind", "key"), [("rinse", "dwell"), ("hydrate", "time"), ("chill", "time")]
)
def test_what_is_left_of_the_least_time_counts_down_to_nothing(make_context, kind, key):
    watcher, _ = watch(make_context, kind, f'{key} = {{ low = "1 min", high = "2 min" }}')
    assert [at(watcher, s).left_s for s in (0.0, 45.0, 60.0, 90.0)] == [60.0, 15.0, 0.0, 0.0]


@pytest.mark.parametrize(("kind", "key"), [("rinse", "dwell"), ("hydrate", "time")])
def test_too_long_begins_past_the_longest_time(make_context, kind, key):
    watcher, _ = watch(make_context, kind, f'{key} = {{ low = "1 min", high = "2 min" }}')
    tones = [at(watcher, s).tone for s in (59.9, 60.0, 120.0, 120.1)]
    assert tones == ["wait", "do", "do", "warn"]


def test_a_rinse_that_goes_on_is_an_alarm_past_its_longest_time(make_context):
    watcher, _ = watch(make_context, "rinse", 'dwell = { low = "1 min", high = "2 min" }')
    for elapsed_s, over in ((120.0, False), (120.1, True)):
        at(watcher, elapsed_s)
        (alarm,) = watcher.conditions()
        assert (alarm.active, alarm.cleared) == (over, not over)
        assert alarm.id == "x.overdue"
    short, _ = watch(make_context, "rinse", 'dwell = { low = "1 min" }')
    at(short, 500.0)
    assert short.conditions() == []


def test_a_planned_time_is_shown_as_what_is_left(make_context):
    for kind in ("rinse", "work", "form"):
        watcher, _ = watch(make_context, kind, 'planned = "5 min"')
        plain = super(type(watcher), watcher).view(round((START_S + 60) * S))
        assert plain.left_s == 240.0
        assert super(type(watcher), watcher).view(round((START_S + 301) * S)).left_s == 0.0


def test_the_binder_of_a_sheet_without_a_time_gets_an_hour_and_only_a_binder_does(make_context):
    watcher, _ = watch(make_context, "hydrate", 'ingredient = "binder"')
    assert at(watcher, 600.0).left_s == 3000.0
    other, _ = watch(make_context, "hydrate", 'ingredient = "flour"')
    assert at(other, 600.0).left_s is None


def test_a_mix_that_took_too_little_time_says_by_how_much(make_context):
    watcher, out = watch(make_context, "hydrate", 'time = { low = "10 min" }')
    watcher.end(round((START_S + 600) * S))
    assert "too early" not in out.results.findings[-1].evidence
    watcher.end(round((START_S + 540) * S))
    assert out.results.findings[-1].evidence.endswith("the next stage began 1 min too early")


def core(watcher, elapsed_s, temp_c=62.0, u=0.1, lasted_s=20):
    """Read the core once a second for a while, up to a time of the stage."""
    for k in range(lasted_s + 1):
        t_ns = round((START_S + elapsed_s - lasted_s + k) * S)
        watcher.reading(Reading("core", t_ns, temp_c, u))
    return at(watcher, elapsed_s)


def test_holding_warns_in_its_last_quarter_of_an_hour_and_stops_when_it_is_up(make_context):
    watcher, _ = watch(make_context, "hold", 'core = { low = "57 degC" }\ntime = { high = "1 h" }')
    assert (SOON_S, core(watcher, 2700.0).tone) == (15 * 60.0, "wait")
    view = core(watcher, 2701.0, lasted_s=0)
    assert (view.tone, view.left_s) == ("warn", 899.0)
    for elapsed_s, up in ((3599.0, False), (3600.0, True)):
        view = core(watcher, elapsed_s, lasted_s=0)
        (alarm,) = [c for c in watcher.conditions() if c.id == "x.time"]
        assert (view.tone == "stop", alarm.active, alarm.cleared) == (up, up, not up)
        assert (alarm.on_delay_s, alarm.latches) == (0.0, True)


def test_of_two_limits_of_holding_the_shorter_counts(make_context):
    rule = 'rule_set = "food_code_time_4h"\n'
    for hours, left_s in ((3, 3 * 3600.0), (5, 4 * 3600.0)):
        watcher, _ = watch(make_context, "hold", rule + f'time = {{ high = "{hours} h" }}')
        assert at(watcher, 0.0).left_s == left_s


@pytest.mark.parametrize(
    ("temp_c", "side"), [(56.5, "Warm it up"), (57.5, None), (66.0, "Cool it")]
)
def test_holding_says_which_way_the_core_must_go(make_context, temp_c, side):
    watcher, _ = watch(make_context, "hold", 'core = { low = "57 degC", high = "65 degC" }')
    view = core(watcher, 100.0, temp_c)
    assert view.say.startswith(f"{side}: the core" if side else "Held for 1 min 40 s")
    assert view.tone == ("warn" if side else "calm")


def test_a_core_older_than_ten_seconds_is_no_longer_the_core_now(make_context):
    """Common practice, no source."""
    watcher, _ = watch(make_context, "hold", 'core = { low = "57 degC" }')
    core(watcher, 100.0, 50.0)
    assert at(watcher, 110.0).say.startswith("Warm it up")
    low = next(c for c in watcher.conditions() if c.id == "x.core.low")
    assert (low.active, low.cleared) == (True, False)
    assert at(watcher, 110.1).say.startswith("Hold: no")
    low = next(c for c in watcher.conditions() if c.id == "x.core.low")
    assert (low.active, low.cleared) == (None, False)


def test_the_mix_has_an_age_too(make_context):
    band = 'channel = "water"\ntemp = { low = "15 degC" }\ntime = { low = "1 h" }'
    watcher, _ = watch(make_context, "hydrate", band)
    watcher.reading(Reading("water", START_S * S, 12.0, 0.1))
    watcher.reading(Reading("fat", (START_S + 5) * S, 60.0, 0.1))
    seen = []
    for elapsed_s in (5.0, 10.0, 10.1, 30.1, 60.1):
        (shown,) = [n for n in at(watcher, elapsed_s).numbers if n.label == "Temperature"]
        (low,) = watcher.conditions()
        assert (low.active is None) is (shown.value is None)
        seen.append(shown.value)
    assert seen[0] == 12.0
    assert seen[-1] is None


def test_chilling_is_over_when_the_core_is_surely_cold_and_the_time_is_up(make_context):
    band = 'core = { high = "5 degC" }\ntime = { low = "10 min" }'
    for temp_c, elapsed_s, done in (
        (4.0, 600.0, True), (4.0, 599.0, False), (5.5, 700.0, False), (5.0, 700.0, False),
    ):  # fmt: skip
        watcher, _ = watch(make_context, "chill", band)
        core(watcher, elapsed_s, temp_c)
        assert (watcher.finished() is not None) is done, (temp_c, elapsed_s)
    assert not core(watcher, 700.0, 4.0, lasted_s=5) or watcher.finished() is None
    cold, _ = watch(make_context, "chill", 'core = { high = "5 degC" }')
    core(cold, 60.0, 4.0)
    assert cold.finished() == "The core is cold enough"
    assert at(cold, 70.0).say == "The core is cold enough"
    at(cold, 70.1)
    assert cold.finished() is None
    timed, _ = watch(make_context, "chill", 'time = { low = "10 min" }')
    at(timed, 600.0)
    assert timed.finished() == "The time is up"


def test_the_core_at_the_end_of_chilling_needs_a_reading_in_the_last_minute(make_context):
    for silent_s, verdict in ((60.0, "met"), (60.1, "not measured")):
        watcher, out = watch(make_context, "chill", 'core = { high = "5 degC" }')
        core(watcher, 100.0, 4.0)
        watcher.end(round((START_S + 100.0 + silent_s) * S))
        (found,) = out.results.findings
        assert found.verdict == verdict


def test_the_worst_of_the_last_stretch_is_judged_at_the_end_of_chilling(make_context):
    watcher, out = watch(make_context, "chill", 'core = { high = "5 degC" }')
    for k in range(30):
        watcher.reading(Reading("core", (START_S + k) * S, 5.6 if k == 25 else 4.0, 0.1))
    watcher.end((START_S + 30) * S)
    (found,) = out.results.findings
    assert (found.value, found.verdict) == (5.6, "not met")

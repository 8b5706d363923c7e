"""What decides lasts for a stretch: three readings over 10 s, or two time constants."""

import math
import random

from logger.model.bench import bench_of_roles
from logger.model.reading import Reading
from logger.watch.verdict.stretch import Held, Stretches, stretch_ns_of

S = 1_000_000_000


def fed(values, every_s=1.0, stretch_s=10.0):
    stretches = Stretches(round(stretch_s * S))
    for k, value in enumerate(values):
        stretches.take(Reading("core", round(k * every_s * S), value, 0.1))
    return stretches


def plain(values, every_s, stretch_s):
    """The same by looking at every stretch anew."""
    lowest, highest = math.inf, -math.inf
    for end in range(len(values)):
        for start in range(end - 1, -1, -1):
            if end - start >= 2 and (end - start) * every_s >= stretch_s:
                part = values[start : end + 1]
                lowest, highest = min(lowest, max(part)), max(highest, min(part))
                break
    return lowest, highest


def test_one_reading_is_no_extreme():
    found = fed([50.0] * 20 + [70.0] + [50.0] * 20 + [5.0] + [50.0] * 20)
    assert (found.lowest.value, found.highest.value) == (50.0, 50.0)


def test_the_unfavourable_end_of_a_stretch_counts():
    found = fed([50.0] * 20 + [70.0 + 0.1 * k for k in range(11)] + [50.0] * 20)
    assert found.highest.value == 70.0
    assert (found.highest.from_ns, found.highest.to_ns) == (20 * S, 30 * S)


def test_nine_seconds_are_no_stretch_and_two_readings_are_none():
    assert fed([70.0] * 10).highest is None
    assert fed([70.0] * 11).highest.value == 70.0
    assert fed([70.0] * 2, every_s=60.0).highest is None
    assert fed([70.0] * 3, every_s=60.0).highest.value == 70.0


def test_extremes_are_those_of_every_stretch():
    rng = random.Random(11)
    for _ in range(20):
        every_s, stretch_s = rng.choice([0.5, 1.0, 4.0, 20.0]), rng.choice([10.0, 14.0])
        values = [rng.gauss(0.0, 5.0) for _ in range(60)]
        found = fed(values, every_s, stretch_s)
        assert (found.lowest.value, found.highest.value) == plain(values, every_s, stretch_s)


def test_a_gap_ends_a_stretch():
    found = Stretches(10 * S)
    held = Held(10 * S)
    for k in range(18):
        if k == 9:
            found.broken()
            held.broken()
        found.take(Reading("core", k * S, 70.0, 0.1))
        assert not held.take(k * S, True)
    assert found.highest is None
    assert found.now() is None


def test_a_slow_probe_needs_two_time_constants():
    bench = bench_of_roles(["core"])
    channel = bench.channel[0].model_copy(
        update={"lag": None, "sensor": None},
    )
    assert stretch_ns_of(channel) == stretch_ns_of(None) == 10 * S
    slow = channel.model_validate(
        {
            **channel.model_dump(),
            "sensor": {"kind": "rtd", "time_constant": "20 s"},
        }
    )
    assert stretch_ns_of(slow) == 40 * S


def test_of_equal_stretches_the_first_is_told():
    found = fed([50.0] * 20 + [55.0] * 20 + [50.0] * 20 + [55.0] * 20)
    assert found.highest.from_ns == 20 * S
    assert found.lowest.from_ns == 0


def test_values_below_nought_have_extremes_too():
    found = fed([-18.0] * 12 + [-20.0] * 12 + [-15.0] * 12)
    assert (found.lowest.value, found.highest.value) == (-20.0, -15.0)


def test_something_is_held_from_the_first_time_on_until_it_is_not_or_there_is_a_gap():
    held = Held(10 * S)
    assert [held.take(t * S, True) for t in (0, 5, 9, 10, 11)] == [False, False, False, True, True]
    assert held.since_ns == 0
    assert held.take(12 * S, False) is False
    assert held.since_ns is None
    assert [held.take(t * S, True) for t in (20, 30)] == [False, False], "two are too few"
    assert held.take(31 * S, True) is True
    held.broken()
    assert held.take(60 * S, True) is False


def test_the_stretch_now_is_that_up_to_the_last_reading():
    now = fed([50.0] * 5 + [52.0, 49.0] + [50.0] * 4).now()
    assert [m.value for m in now] == [49.0, 52.0]
    assert (now[0].from_ns, now[0].to_ns) == (0, 10 * S)
    assert fed([50.0] * 10).now() is None
    assert fed([50.0] * 2, every_s=60.0).now() is None
    cut = fed([50.0] * 20)
    cut.broken()
    assert cut.now() is None

"""A core probe comes out the same however its readings arrived, and on replay of what was kept."""

import dataclasses
import itertools
import math
import random

import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Flag, Reading
from logger.recorder.live.pipeline import HOLD_BACK_NS, Pipeline
from logger.science.fats.fatfile import builtin_fats

S = 1_000_000_000
END_S = 700.0
SHEET = sheet_from_text(
    """
[sheet]
name = "Roll"
[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC" }
hold = "15 s"
[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }
rule_set = "food_code_cooked"
""",
    "roll.sheet.toml",
)
EVENTS = [
    Event(t_ns=0, kind="run_start", source="operator"),
    Event(t_ns=20 * S, kind="next", source="operator"),
    Event(t_ns=400 * S + 7, kind="next", source="operator"),
    Event(t_ns=round(END_S) * S, kind="run_end", source="operator"),
]


def tip_c(t_s):
    """Table, a piece at 60 degC that goes on to 70, 20 s of air, interference, the cold."""
    if 300 < t_s < 320:
        return 24.0
    if round(t_s, 1) in (200.5, 350.0, 480.5):
        return 5.0
    if t_s < 60:
        return 21.0
    warm_c = 70.0 - 10.0 * math.exp(-(t_s - 60) / 100) - 0.02 * max(t_s - 400, 0)
    return (4.0 if t_s > 550 else warm_c) - 39.0 * math.exp(-(t_s - 60) / 6)


def readings():
    core = [Reading("core", k * S // 2, round(tip_c(k / 2), 2), 0.2) for k in range(1, 1400)]
    room = [Reading("room", k * S, 21.0 + k % 7 / 10, 0.2) for k in range(700)]
    return core + room


def played(arrivals, hold_back_ns, looks_s):
    """Let readings arrive, look now and then; return the pipeline, what was said and kept."""
    pipe = Pipeline(SHEET, bench_of_roles(["core", "room"]), {}, builtin_fats(), hold_back_ns)
    arrivals, said, kept = sorted(arrivals, key=lambda pair: pair[0]), [], []
    for after_s, now_s in itertools.pairwise([-1.0, *looks_s]):
        kept += pipe.offer([i for t_ns, i in arrivals if after_s < t_ns / S <= now_s])
        said += pipe.advance(round(now_s * S))
        pipe.state(round(now_s * S))
    more, results = pipe.finish(round(END_S) * S)
    return dataclasses.asdict(results), [*said, *more], kept


def late_by(seed, most_s):
    """Return each reading with when it arrives [ns]; one in fifty takes far longer."""
    rng = random.Random(seed)
    longer = [0.0] * 49 + [3.0 if seed else 0.0]
    by_s = [rng.uniform(0, most_s) + rng.choice(longer) for _ in readings()]
    read = [(r.t_ns + round(s * S), r) for r, s in zip(readings(), by_s, strict=True)]
    return [*((e.t_ns, e) for e in EVENTS), *read]


def looks(seed):
    rng, at_s = random.Random(seed), 0.0
    while at_s < END_S + 5.0:
        at_s += rng.choice((0.05, 0.3, 1.0, 1.7, 12.0))
        yield at_s


@pytest.fixture(scope="module")
def at_once():
    return played([(i.t_ns, i) for i in [*EVENTS, *readings()]], 0, [END_S + 5.0])


def test_a_stream_with_moves_and_interference_has_something_to_tell(at_once):
    _, said, _ = at_once
    assert [e.kind for e in said if e.kind == "probe_moved"] != []


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_came_in_time_gives_the_same_in_any_pieces(seed, at_once):
    results, said, kept = played(late_by(0, 0.2), HOLD_BACK_NS, looks(seed))
    assert not [i for i in kept if isinstance(i, Reading) and i.flags & Flag.LATE]
    assert (results, said) == at_once[:2]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_was_kept_of_a_run_gives_the_same_again(seed):
    results, said, kept = played(late_by(seed, 0.4), HOLD_BACK_NS, looks(seed))
    assert [i for i in kept if isinstance(i, Reading) and i.flags & Flag.LATE]
    again = played([(i.t_ns, i) for i in kept], 0, [END_S + 5.0])
    assert again[:2] == (results, said)

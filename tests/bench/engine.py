"""What the engine costs: time per reading with sensor health, and an undo of ten minutes."""

import random
import time

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.watch.engine.engine import SECOND_NS, Engine

ROLES = ["fat", "water", "emulsion", "bath", "core", "bowl_scale", "bath_scale", "bench_scale"]
SHEET = """
[sheet]
name = "Roll"
[[stage]]
id = "cold"
kind = "chill"
rule_set = "food_code_cooked"
"""
SECONDS, RATE_HZ = 600, 10


def _items() -> list[Reading]:
    rng = random.Random(1)
    return [
        Reading(role, k * SECOND_NS // RATE_HZ, round(40 + rng.gauss(0, 0.05), 2), 0.2)
        for k in range(1, SECONDS * RATE_HZ)
        for role in ROLES
    ]


def main() -> None:
    """Print the table."""
    items = _items()
    best_s = []
    for _ in range(3):
        engine = Engine(sheet_from_text(SHEET, "s"), bench_of_roles(ROLES), correctors={})
        engine.feed([Event(t_ns=0, kind="next", source="operator")], 0)
        start = time.perf_counter()
        engine.feed(items, items[-1].t_ns)
        best_s.append(time.perf_counter() - start)
    print(f"{len(ROLES)} channels x {RATE_HZ} Hz, {SECONDS} s, engine with health and one stage:")
    print(f"  {min(best_s) / len(items) * 1e6:.1f} us per reading (wanted: at most 25)")
    start = time.perf_counter()
    undo = Event(t_ns=items[-1].t_ns, kind="undo", source="operator")
    said = engine.feed([undo], undo.t_ns)
    took_s = time.perf_counter() - start
    print(f"  {took_s:.2f} s to take back a stage of {SECONDS} s ({said[0].kind})")
    start = time.perf_counter()
    for _ in range(100):
        engine.state(items[-1].t_ns).as_json()
    print(f"  {(time.perf_counter() - start) * 10:.2f} ms for a state")

"""Streams by formulas of time: pieces on a scale, a fat that sets, a bench of faults and acts.

Each shows what the seeded sessions of other tests leave out; played by ``sessions``.
"""

import math
import random
from collections.abc import Callable, Sequence

from logger.model.event import Event
from logger.model.reading import Flag, Reading
from tests.watch.ingredients import FAT_AND_JUICE, HEAD, coat_and_bath

S = 1_000_000_000
Item = Reading | Event
PIECE = 'piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }\n'
RATE_HZ = 2.0
BARE_G, COATS_G = (62.0, 73.4, 57.4), (8.2, 11.9, 7.9)
PIECES_SHEET = HEAD + coat_and_bath(10) + f"""
[[stage]]
id = "shape"
kind = "form"
pieces = 3
{PIECE}
mass = {{ low = "58 g", high = "82 g" }}
[[stage]]
id = "coat"
kind = "coat"
pieces = 4
{PIECE}
pickup = {{ low = "5.5 g", high = "10 g" }}
thickness = {{ low = "0.55 mm", high = "1.05 mm" }}
[[stage]]
id = "air"
kind = "dry"
time = {{ low = "5 min", high = "20 min" }}
loss = {{ low = "0.8 %", high = "3 %" }}
"""  # fmt: skip
FAT_SHEET = HEAD + '[[stage]]\nid = "fat"\nkind = "fat_curve"\nfat = "coconut_oil"\n'
FAULTS_SHEET = HEAD + FAT_AND_JUICE + """
[[ingredient]]
name = "barley binder"
phase = "water"
substance = "binder"
mass = "12 g"
[[stage]]
id = "swell"
kind = "hydrate"
ingredient = "barley binder"
channel = "water"
temp = { low = "15 degC", high = "25 degC" }
time = { low = "3 min", high = "10 min" }
ends = "bench"
[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }
water = { low = "42 degC", high = "56 degC" }
[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC", high = "90 degC" }
hold = "15 s"
lethality = "fsis_1999_beef_6_5_log"
[[stage]]
id = "keep"
kind = "hold"
core = { low = "57 degC" }
time = { low = "1 min", high = "30 min" }
rule_set = "food_code_hot"
[[stage]]
id = "firm"
kind = "chill"
core = { high = "5 degC" }
time = { low = "6 min" }
rule_set = "food_code_cooked"
[[stage]]
id = "wash"
kind = "rinse"
dwell = { low = "20 s", high = "1 min" }
"""  # fmt: skip


def act(t_s: float, kind: str, text: str = "", **data: object) -> Event:
    """Return what the operator does at a time [s]."""
    return Event(t_ns=round(t_s * S), kind=kind, source="operator", text=text, data=data)


def in_order(items: Sequence[Item]) -> list[Item]:
    """Return items by their time, acts before readings."""
    return sorted(items, key=lambda item: (item.t_ns, isinstance(item, Reading)))


def pieces() -> tuple[list[Item], float]:
    """Weigh, dip and weigh three pieces, type the fourth, lay all on a rack and dry them."""
    rng, loads = random.Random(3), [(0.0, 0.0)]
    items: list[Item] = [act(0.0, "run_start"), act(0.5, "stage", stage="shape")]

    def weighed(t_s: float, mass_g: float) -> float:
        loads.extend([(t_s, mass_g), (t_s + 5.0, 0.0)])
        return t_s + 9.0

    t_s = 6.0
    for mass_g in BARE_G:
        t_s = weighed(t_s, mass_g)
    items.append(act(t_s, "stage", stage="coat"))
    for mass_g, coat_g in zip(BARE_G, COATS_G, strict=True):
        t_s = weighed(weighed(t_s + 3.0, mass_g - 0.2), mass_g + coat_g)
    items += [
        act(t_s, "register_piece", piece=4, mass_g=64.1),
        act(t_s + 1.0, "register_piece", piece=2, mass_g=-3.0),
        act(t_s + 4.0, "stage", stage="air"),
    ]
    t_s += 6.0
    loads.append((t_s, 386.0))
    total_g = 386.0
    for mass_g, coat_g in zip(BARE_G, COATS_G, strict=True):
        t_s, total_g = t_s + 4.0, total_g + mass_g + coat_g
        loads.append((t_s, total_g))
    laid_s, end_s = t_s, t_s + 1300.0
    for k in range(1, int(RATE_HZ * end_s)):
        at_s = k / RATE_HZ
        since_s = max(0.0, at_s - laid_s - 700.0)
        lost_g = 0.006 * min(max(at_s - laid_s, 0.0), 700.0)
        lost_g += 0.6 * (1.0 - math.exp(-since_s / 100.0)) + 0.0003 * since_s
        load_g = next(g for from_s, g in reversed(loads) if from_s <= at_s) - lost_g
        shown_g = round(load_g + rng.gauss(0.0, 0.008), 2)
        items.append(Reading("bench_scale", round(at_s * S), shown_g, 0.02, 0))
    return in_order(items), end_s


def setting_fat() -> tuple[list[Item], float]:
    """Let a fat cool below where it sets, grow warm by it, stay there, and cool on."""
    rng, items, end_s = random.Random(5), [act(0.0, "next")], 2700.0

    def fat_c(t_s: float) -> float:
        sets_s = 1300.0
        cooled_c = 14.0 + 41.0 * math.exp(-t_s / 800.0)
        if t_s < sets_s:
            return cooled_c
        since_s = t_s - sets_s
        risen_c = 3.6 * (1.0 - math.exp(-since_s / 120.0))
        return (
            cooled_c + risen_c
            if since_s < 500.0
            else 14.0 + (fat_c(sets_s + 499.0) - 14.0) * (math.exp(-(since_s - 500.0) / 1600.0))
        )

    for t_s in range(5, int(end_s), 5):
        items.append(Reading("fat", t_s * S, round(fat_c(t_s) + rng.gauss(0, 0.04), 1), 0.15, 0))
        items.append(Reading("room", t_s * S, 14.2, 0.3, 0))
    return items, end_s


FAULT_ACTS = (
    act(0.0, "run_start"), act(1.0, "next"),
    act(20.0, "slab_test", alginate="house", dwell_s=300.0),
    act(30.0, "set_value", name="air_c", value=23.5, unit="degC"),
    act(31.0, "set_value", name="air_c"),
    act(40.0, "note", "the whisk is loud"),
    act(60.0, "stage", stage="nowhere"),
    act(61.0, "ack", alarm="nothing"), act(62.0, "shelve", alarm="fat.stale"),
    act(70.0, "decline", proposal="end.swell.1"),
    act(195.0, "decline", proposal="end.swell.1"),
    act(200.0, "next"), act(203.0, "undo"), act(206.0, "next"),
    act(236.0, "ack", alarm="fat.stale"), act(240.0, "shelve", alarm="fat.stale", for_s=20.0),
    act(250.0, "unshelve", alarm="fat.stale"), act(251.0, "unshelve", alarm="fat.stale"),
    act(255.0, "out_of_service", alarm="fat.stale"), act(262.0, "in_service", alarm="fat.stale"),
    act(263.0, "in_service", alarm="fat.stale"), act(264.0, "reset_latch", alarm="fat.stale"),
    act(330.0, "mark"), act(331.0, "undo"), act(400.0, "next"), act(560.0, "note", "smells good"),
    act(700.0, "next"), act(900.0, "ack", alarm="keep.core.low"), act(950.0, "next"),
    act(951.0, "reset_latch", alarm="keep.core.low"),
    act(1300.0, "go_on", missed_s=60.0), act(1460.0, "next"), act(1600.0, "run_end"),
    act(1601.0, "outcome", outcome="rejected", defects=["grainy"]), act(1602.0, "note", "late"),
)  # fmt: skip


def _fat(t_s: float) -> float | None:
    if 215.0 < t_s < 275.0:
        return None
    return 47.31 if 290.0 < t_s < 390.0 else 40.0 + 0.06 * t_s - (9.0 if 280 < t_s < 283 else 0.0)


def _water(t_s: float) -> float | None:
    return 26.5 - 0.01 * t_s if t_s < 200.0 else 20.0 + 34.0 * (1.0 - math.exp(-(t_s - 200.0) / 70))


def _core(t_s: float) -> float | None:
    if t_s < 400.0 or 1100.0 < t_s < 1140.0:
        return None
    if t_s < 700.0:
        return 8.0 if 500.0 < t_s < 512.0 else 6.0 + 74.0 * (1.0 - math.exp(-(t_s - 400.0) / 90))
    if t_s < 950.0:
        return 75.0 - 0.11 * (t_s - 700.0)
    return 3.0 + 44.0 * math.exp(-(t_s - 950.0) / 260.0)


FAULTY: dict[str, Callable[[float], float | None]] = {
    "fat": _fat, "water": _water, "core": _core, "bowl_scale": lambda t: 300.0 + (t > 640.0) * 41.5,
}  # fmt: skip


FAULTY_SENSORS = {
    "fat": {"kind": "thermocouple", "assumed": True},
    "water": {"kind": "rtd", "accuracy": "0.2 K", "time_constant": "4 s"},
    "core": {"kind": "thermocouple", "type": "T", "class": 1, "time_constant": "8 s"},
    "bowl_scale": None,
}


def faults() -> tuple[list[Item], float]:
    """Play sensors that fall silent, stick, jump and are out of range, and all kinds of acts."""
    rng, items = random.Random(9), list[Item](FAULT_ACTS)
    for tenth in range(10, 16_000, 10):
        t_s = tenth / 10.0
        for role, value_at in FAULTY.items():
            value = value_at(t_s)
            if value is None:
                continue
            stuck = role == "fat" and value == 47.31
            shown = value if stuck else round(value + rng.gauss(0.0, 0.05), 2)
            flags = int(Flag.OUT_OF_RANGE) if role == "water" and 300.0 < t_s < 320.0 else 0
            items.append(Reading(role, round(t_s * S), shown, 0.2, flags))
    return in_order(items), 1620.0

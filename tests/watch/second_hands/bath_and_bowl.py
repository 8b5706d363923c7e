"""What cooks do at bath and bowl, by habit, and what was true meanwhile.

Seeded; habits, rates and times are the author's own idea of a kitchen (common practice, no source)
unless a line says otherwise. Makes cases for ``tests.watch.hands_judged``; knows no detector.
"""

import random

from tests.watch.second_hands.pans import Case, Dip, Pan, some_scale

# Pieces in the bath.

BATH = """
[sheet]
name = "Beet rolls"
[[ingredient]]
name = "coating water"
phase = "coat"
substance = "water"
mass = "790 g"
[[ingredient]]
name = "sodium alginate"
phase = "coat"
substance = "alginate"
mass = "12 g"
[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "2940 g"
[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "60 g"
[[stage]]
id = "dip"
kind = "coat"
[[stage]]
id = "skin"
kind = "set"
pieces = {n}
piece = {{ body = "cylinder", diameter = "26 mm", length = "130 mm" }}
{masses}
dwell = {{ low = "{low:.0f} s", high = "{high:.0f} s" }}
stirred = true
[[stage]]
id = "wash"
kind = "rinse"
"""
BATH_HABITS = (
    "punctual", "late next", "early next", "next twice", "next forgotten", "gap at a removal",
    "gap at a lowering", "gap of nothing", "gap of several", "slow lowering", "in moves",
    "unequal pieces", "long drips", "hand stirring", "drift and loss", "spoon left in",
    "out in another order", "two at a time", "back at zero",
)  # fmt: skip


def bath(habit, seed):
    """Return a case of pieces in a bath."""
    rng = random.Random(f"bath {habit} {seed}")
    n, mean_g = rng.randint(2, 7), rng.uniform(45, 95)
    spread = 0.2 if habit == "unequal pieces" else rng.uniform(0.03, 0.07)
    masses_g = [round(mean_g * (1 + rng.gauss(0, spread)), 1) for _ in range(n)]
    low_s = rng.choice((90.0, 120.0, 180.0))
    registered = ", ".join(f'"{m + rng.gauss(0, 0.1):.1f} g"' for m in masses_g)
    sheet = BATH.format(
        n=n,
        low=low_s,
        high=1.6 * low_s,
        masses=f"piece_masses = [{registered}]" if rng.random() < 0.7 else "",
    )
    slope = -rng.uniform(30, 90) if habit == "drift and loss" else -rng.uniform(2, 12)
    pan = Pan(rng, start_g=rng.uniform(3400, 4600), drift_g_h=slope)
    pan.do("run_start").wait(3, 8).do("next").wait(40, 60)
    first_s = pan.t_s
    dips = _dipped(pan, rng, habit, masses_g, low_s)
    pan.wait(20, 40)
    case = Case(
        work="bath", habit=habit, seed=seed, sheet=sheet, scale=some_scale(rng, "bath_scale"),
        pan=pan, dips=dips, band_s=(low_s, 1.6 * low_s),
    )  # fmt: skip
    _nexts(pan, rng, habit, dips, first_s)
    _bath_gaps(pan, rng, habit, dips)
    if habit == "hand stirring":
        for _ in range(rng.randint(2, 6)):
            at_s = rng.uniform(first_s, pan.t_s - 30)
            pan.shake(at_s, at_s + rng.uniform(4, 12), rng.uniform(2, 12), rng.uniform(-4, 8))
    if habit == "spoon left in":
        at_s = rng.uniform(first_s, pan.t_s - 60)
        pan.touch(at_s, rng.uniform(10, 40), rng.uniform(0.25, 0.5) * min(masses_g))
    return case


def _dipped(pan, rng, habit, masses_g, low_s):
    """Play all pieces, first in first out but for a few; return the truth."""
    dips = []
    dwell_s = rng.uniform(1.05, 1.5) * low_s
    for k, mass_g in enumerate(masses_g):
        if k and not (habit == "two at a time" and k % 2):
            pan.wait(8, 30)
        began_s = pan.t_s
        _lower(pan, rng, habit if rng.random() < 0.7 else "", mass_g)
        dips.append(Dip(mass_g=mass_g, in_s=(began_s, pan.t_s), out_s=(0.0, 0.0)))
        pan.wait(0.3, 1.5)
    odd = 0.4 if habit == "out in another order" else 0.08  # one of these early or forgotten
    due_s = [
        d.in_s[1] + dwell_s * (rng.choice((0.75, 1.5)) if rng.random() < odd else 1.0) for d in dips
    ]
    for k in sorted(range(len(dips)), key=lambda k: due_s[k]):
        together = habit == "two at a time" and k % 2
        pan.t_s = max(pan.t_s + rng.uniform(7, 14), due_s[k] + rng.uniform(-4, 8))
        if together and dips[k - 1].out_s[1]:
            pan.t_s = min(pan.t_s, max(d.out_s[1] for d in dips) + rng.uniform(0.5, 2.0))
        dips[k].out_s = _lift(pan, rng, habit, dips[k].mass_g)
    return dips


def _lower(pan, rng, habit, mass_g):
    """Lower a piece: dropped, on a spoon that lets the water carry it first, or in moves."""
    if habit == "slow lowering":
        carried_g = rng.uniform(0.9, 0.97) * mass_g  # water pushed aside by a piece of 1.03 to 1.1
        pan.put(carried_g, rng.uniform(5, 8)).put(mass_g - carried_g, 0.4)
    elif habit == "in moves":
        shares = [rng.uniform(0.6, 1.4) for _ in range(rng.randint(3, 5))]
        for k, share in enumerate(shares):
            if k:
                pan.wait(0.8, 3.0)
            pan.put(mass_g * share / sum(shares), rng.uniform(0.3, 0.9))
    else:
        if rng.random() < 0.5:
            pan.touch(pan.t_s + 0.1, rng.uniform(0.6, 1.2), rng.uniform(1, 5))
        pan.put(mass_g, rng.uniform(0.3, 1.2)).ring(pan.t_s, rng.uniform(0.3, 2.5))


def _lift(pan, rng, habit, mass_g):
    """Lift a piece with a spoon; what clings goes along, part of it drips back [g]."""
    if rng.random() < 0.6:
        push_g, for_s = rng.uniform(2, 9), rng.uniform(0.8, 2.0)
        pan.touch(pan.t_s, for_s, push_g)
        pan.t_s += for_s
    began_s, clings_g = pan.t_s, rng.uniform(1.0, 5.0)
    pan.put(-mass_g - clings_g, rng.uniform(0.4, 1.4))
    ended_s = pan.t_s
    pan.ring(ended_s, rng.uniform(0.1, 1.0))
    drops = rng.randint(10, 25) if habit == "long drips" else rng.randint(0, 6)
    at_s = ended_s
    for _ in range(drops):
        at_s += rng.uniform(0.2, 0.9)
        pan.ramp(at_s, clings_g * 0.7 / drops, 0.05)
    return began_s, ended_s


def _nexts(pan, rng, habit, dips, first_s):
    """Press Next into the bath's stage, and out of it, as the habit is."""
    last_s = max(d.out_s[1] for d in dips)
    at_s = first_s - rng.uniform(3, 12)
    if habit == "late next":
        after = dips[rng.randrange(len(dips))]
        at_s = after.in_s[1] + rng.uniform(1, 60)
    elif habit == "early next":
        at_s = first_s - rng.uniform(30, 38)
    if habit != "next forgotten":
        pan.do("next", at_s)
        if habit == "next twice":
            pan.do("next", at_s + rng.uniform(0.3, 3))
        elif rng.random() < 0.5:
            pan.do("next", max(last_s, at_s) + rng.uniform(4, 15))


def _bath_gaps(pan, rng, habit, dips):
    """Unplug the scale as the habit is; mark what that hides."""
    one = rng.choice(dips)
    from_s = None
    if habit in ("gap at a removal", "gap at a lowering"):
        edge_s = one.out_s if habit == "gap at a removal" else one.in_s
        from_s = edge_s[0] - rng.uniform(1.5, 10)
        to_s = edge_s[1] + rng.uniform(1.5, 8)
    elif habit == "gap of several":
        from_s = min(d.out_s[0] for d in dips) - rng.uniform(2, 15)
        to_s = from_s + rng.uniform(20, 60)
    elif habit in ("gap of nothing", "back at zero"):
        edges_s = sorted(t for d in dips for t in (*d.in_s, *d.out_s))
        calm = [(a, b) for a, b in zip(edges_s[1::2], edges_s[2::2], strict=False) if b - a > 9]
        after_s, before_s = rng.choice(calm)
        from_s = after_s + 4
        to_s = rng.uniform(from_s + 2, before_s - 2)
    if from_s is None:
        return
    pan.silence(from_s, to_s, power=habit == "back at zero")
    for dip in dips:
        dip.hidden = any(a < to_s + 1.0 and b > from_s - 1.0 for a, b in (dip.in_s, dip.out_s))


# Pours into the bowl.

POURS = """
[sheet]
name = "Beet rolls"
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "{fat:.0f} g"
[[ingredient]]
name = "beet stock"
phase = "water"
substance = "water"
mass = "{stock:.0f} g"
[[ingredient]]
name = "onion marmalade"
phase = "water"
substance = "other"
mass = "{other:.1f} g"
[[stage]]
id = "warm"
kind = "heat"
fat = {{ low = "44 degC", high = "58 degC" }}
[[stage]]
id = "combine"
kind = "emulsify"
rate = {{ low = "40 g/min", high = "240 g/min" }}
mass = {{ low = "{low:.1f} g", high = "{high:.1f} g" }}
[[stage]]
id = "shape"
kind = "form"
"""
POUR_HABITS = (
    "smooth", "ladles", "interrupted", "gap while pouring", "bowl lifted", "other ingredient",
    "other phase first", "bowl put back", "begun before its stage", "tare in between", "drips",
    "stirring force", "next before the end", "scraped out late", "portions and a gap",
    "back at zero",
)  # fmt: skip


def pours(habit, seed):
    """Return a case of fat that goes into the bowl."""
    rng = random.Random(f"pours {habit} {seed}")
    fat_g, stock_g = rng.uniform(120, 260), rng.uniform(280, 520)
    other_g = rng.uniform(6, 12) if rng.random() < 0.5 else rng.uniform(35, 80)
    sheet = POURS.format(
        fat=fat_g, stock=stock_g, other=other_g, low=0.97 * fat_g, high=1.03 * fat_g
    )
    bowl_g = rng.uniform(240, 900)
    first = habit == "other phase first"
    start_g = 0.0 if first else bowl_g + stock_g
    pan = Pan(rng, start_g=start_g, drift_g_h=rng.uniform(-6, 1))
    if not first and rng.random() < 0.5:
        pan.start_g = 0.0  # tared before the run
    pan.do("run_start").wait(1, 3).do("next").wait(6, 12)
    if first:
        pan.put(bowl_g, rng.uniform(0.5, 1.0)).wait(4, 9)
        if rng.random() < 0.5:
            pan.tare(said=rng.random() < 0.5).wait(3, 6)
        _stream(pan, rng, stock_g, rng.uniform(15, 60))
        pan.wait(6, 15)
    into_s = pan.t_s
    pan.wait(8, 25)
    poured_g = fat_g * rng.choice((1, 1, 1, 0.8, 1.12)) * rng.uniform(0.985, 1.015)
    before_s = pan.t_s
    into_at_s = _poured(pan, rng, habit, poured_g, other_g, bowl_g + stock_g)
    pan.do("next", into_s if into_at_s is None else into_at_s)
    if habit == "next before the end":
        pan.do("next", pan.t_s - rng.uniform(0.1, 0.4) * (pan.t_s - before_s)).wait(20, 40)
    else:
        pan.wait(10, 20).do("next").wait(10, 20)
    return Case(
        work="pours", habit=habit, seed=seed, sheet=sheet, scale=some_scale(rng, "bowl_scale"),
        pan=pan, poured_g=poured_g, can_be_known=habit != "back at zero",
    )  # fmt: skip


def _stream(pan, rng, mass_g, rate_g_s):
    """Pour a mass in a stream that a hand makes, faster and slower [g, g/s]."""
    left_g = mass_g
    while left_g > 0.05:
        over_s = rng.uniform(0.5, 1.5)
        part_g = min(left_g, rate_g_s * over_s * rng.uniform(0.5, 1.5))
        pan.put(part_g, over_s * max(0.3, min(1.0, part_g / (rate_g_s * over_s))))
        left_g -= part_g
    if left_g > 0:
        pan.put(left_g, 0.1)


def _poured(pan, rng, habit, mass_g, other_g, bowl_g):
    """Pour as the habit is; return when Next is pressed if not before the pour [s]."""
    rate_g_s, began_s, next_s = rng.uniform(1.0, 3.5), pan.t_s, None
    share = rng.uniform(0.3, 0.7)
    if habit == "ladles":
        ladles = max(3, round(mass_g / rng.uniform(12, 35)))
        for _ in range(ladles):
            _stream(pan, rng, mass_g / ladles, rng.uniform(6, 14))
            pan.wait(3, 12)
        return None
    if habit == "portions and a gap":
        for _ in range(4):
            _stream(pan, rng, mass_g / 4, rng.uniform(3, 8))
            pan.wait(5, 15)
        from_s = began_s + rng.uniform(0.2, 0.7) * (pan.t_s - began_s)
        pan.silence(from_s, from_s + rng.uniform(8, 25))
        pan.wait(8, 12)
        return None
    halves = habit in ("interrupted", "bowl lifted", "other ingredient", "tare in between")
    halves = halves or habit == "scraped out late"
    share = 0.93 if habit == "scraped out late" else share
    drops_g = min(6.0, 0.03 * mass_g) if habit == "drips" else 0.0
    _stream(pan, rng, mass_g * share if halves else mass_g - drops_g, rate_g_s)
    if habit in ("gap while pouring", "back at zero"):
        from_s = began_s + rng.uniform(0.1, 0.7) * (pan.t_s - began_s)
        pan.silence(from_s, from_s + rng.uniform(5, 30), power=habit == "back at zero")
    elif habit == "begun before its stage":
        next_s = began_s + rng.uniform(0.2, 0.6) * (pan.t_s - began_s)
    elif habit == "stirring force":
        for _ in range(rng.randint(1, 3)):
            at_s = rng.uniform(began_s, pan.t_s)
            pan.shake(at_s, at_s + rng.uniform(5, 25), rng.uniform(3, 15), rng.uniform(-5, 25))
        pan.wait(20, 30)
    for _ in range(12 if drops_g else 0):
        pan.wait(0.6, 3.0).put(drops_g / 12, 0.05)
    if halves:
        _between(pan, rng, habit, other_g, bowl_g + mass_g * share)
        _stream(pan, rng, mass_g * (1 - share), rate_g_s)
    if habit == "bowl put back":
        pan.wait(5, 12)
        _off_and_on(pan, rng, bowl_g + mass_g)
    return next_s


def _between(pan, rng, habit, other_g, load_g):
    pan.wait(5, 10)
    if habit in ("interrupted", "scraped out late"):
        pan.wait(5, 50)
    elif habit == "bowl lifted":
        _off_and_on(pan, rng, load_g)
    elif habit == "other ingredient":
        pan.put(other_g * rng.uniform(0.98, 1.02), rng.uniform(0.4, 1.2))  # all of it, at once
    elif habit == "tare in between":
        pan.tare(said=rng.random() < 0.5)
    pan.wait(5, 10)


def _off_and_on(pan, rng, load_g):
    """Lift the whole bowl and put it back; a film of 0.1 to 0.4 g stays at hand and whisk [g]."""
    pan.put(-load_g, rng.uniform(0.4, 1.0)).wait(4, 20)
    pan.put(load_g - rng.uniform(0.1, 0.4), rng.uniform(0.5, 1.2)).wait(3, 6)

"""How cooks weigh in on a bench scale, by habit, and what was true meanwhile.

Seeded; habits and times are the author's own idea of a kitchen (common practice, no source). Makes
cases for ``tests.watch.hands_judged``; knows no detector.
"""

import random

from tests.watch.second_hands.pans import Case, Pan, some_scale

WEIGHING = '[sheet]\nname = "Beet rolls"\n{items}\n[[stage]]\nid = "in"\nkind = "weigh"\n'
WARES = (
    ("calcium chloride", "bath", 'salt = "calcium_chloride_dihydrate"', 28.0),
    ("cocoa butter", "fat", 'fat = "cocoa_butter"', 180.0),
    ("beet juice", "water", 'substance = "water"', 245.0),
    ("konjac", "water", 'substance = "binder"', 8.0),
    ("smoked salt", "water", 'substance = "salt"', 12.3),
    ("sodium alginate", "coat", 'substance = "alginate"', 18.0),
    ("coating water", "coat", 'substance = "water"', 492.0),
)
WEIGHING_HABITS = (
    "poured on", "tare key", "marks", "other order", "two portions", "something between portions",
    "short by half", "over by half", "vessel on and off", "tare below zero", "out of a jar",
    "bump and drift",
)  # fmt: skip


def weighing(habit, seed):
    """Return a case of ingredients on the bench scale."""
    rng = random.Random(f"weighing {habit} {seed}")
    wanted_g = {
        name: round(mass_g * rng.uniform(0.8, 1.25), 1) for name, _, _, mass_g in WARES
    }  # fmt: skip
    chosen = sorted(rng.sample(range(len(WARES)), rng.randint(4, 6)))
    items = "".join(
        f'[[ingredient]]\nname = "{WARES[k][0]}"\nphase = "{WARES[k][1]}"\n{WARES[k][2]}\n'
        f'mass = "{wanted_g[WARES[k][0]]} g"\ntolerance = "3 %"\n'
        for k in chosen
    )
    names = [WARES[k][0] for k in chosen]
    truth_g = {name: wanted_g[name] * rng.uniform(0.988, 1.012) for name in names}
    if habit in ("short by half", "over by half"):
        factor = rng.uniform(0.4, 0.6) if habit == "short by half" else rng.uniform(1.4, 1.6)
        truth_g[rng.choice(names)] *= factor
    if habit == "other order":
        while names == [WARES[k][0] for k in chosen]:
            rng.shuffle(names)
    pan = Pan(rng, drift_g_h=rng.uniform(-20, 20) if habit == "bump and drift" else -1.0)
    pan.do("run_start").wait(1, 2).do("next").wait(3, 5)
    _weighed(pan, rng, habit, names, truth_g)
    pan.wait(4, 6).do("next").wait(3, 5)
    return Case(
        work="weighing", habit=habit, seed=seed, sheet=WEIGHING.format(items=items),
        scale=some_scale(rng, "bench_scale"), pan=pan, weighed_g=truth_g,
    )  # fmt: skip


def _spooned(pan, rng, mass_g):
    """Bring a mass onto the pan as a person weighs: most at once, the rest by the spoon [g]."""
    first_g = mass_g * rng.uniform(0.85, 1.0)
    pan.put(first_g, rng.uniform(0.6, 2.5))
    left_g = mass_g - first_g
    for _ in range(rng.randint(1, 3) if left_g > 0.3 else 0):
        part_g = left_g * rng.uniform(0.4, 0.8)
        pan.wait(0.5, 1.5).put(part_g, rng.uniform(0.3, 0.8))
        left_g -= part_g
    pan.put(left_g, 0.3).wait(3.5, 7)


def _weighed(pan, rng, habit, names, truth_g):
    said = rng.random() < 0.5
    one_bowl_g = rng.uniform(60, 400)
    own_cups = habit in ("vessel on and off", "tare below zero")
    if not own_cups and habit != "out of a jar":
        pan.put(one_bowl_g, 0.6).wait(4, 6)
        if habit == "marks":
            pan.do("mark").wait(2, 4)
        else:
            pan.tare(said=said).wait(3, 5)
    odd = rng.sample(names, min(2, len(names)))
    for k, name in enumerate(names):
        mass_g = truth_g[name]
        if own_cups:
            _own_cup(pan, rng, habit, mass_g, said)
        elif habit == "out of a jar":
            _out_of_a_jar(pan, rng, mass_g, name in odd, said)
        elif habit == "something between portions" and len(names) > 3 and k < 2:
            if k == 0:
                _crossed(pan, rng, truth_g[names[0]], truth_g[names[1]], said)
        else:
            _into_the_bowl(pan, rng, habit, mass_g, name in odd, said)


def _into_the_bowl(pan, rng, habit, mass_g, is_odd, said):
    if habit == "two portions" and is_odd:
        share = rng.uniform(0.35, 0.65)
        _spooned(pan, rng, mass_g * share)
        pan.wait(3, 12)
        mass_g *= 1 - share
    if habit == "bump and drift" and rng.random() < 0.6:
        pan.shake(pan.t_s, pan.t_s + rng.uniform(0.3, 1.5), rng.uniform(5, 60), rng.uniform(0, 80))
        pan.wait(2, 5)
    _spooned(pan, rng, mass_g)
    if habit == "marks":
        pan.do("mark").wait(2, 4)
    elif habit != "poured on":
        pan.tare(said=said).wait(3, 5)


def _crossed(pan, rng, first_g, second_g, said):
    """A first ingredient in two portions, another one weighed between them, tared each time."""
    share = rng.uniform(0.5, 0.7)
    for mass_g in (first_g * share, second_g, first_g * (1 - share)):
        _spooned(pan, rng, mass_g)
        pan.tare(said=said).wait(3, 5)


def _own_cup(pan, rng, habit, mass_g, said):
    """Cup on, tare, fill, cup off; the display is then below zero, and perhaps tared there."""
    cup_g = rng.uniform(25, 140)
    pan.put(cup_g, 0.5).wait(4, 6).tare(said=said).wait(3, 5)
    _spooned(pan, rng, mass_g)
    pan.put(-cup_g - mass_g, 0.6).wait(4, 6)
    if habit == "tare below zero":
        pan.tare(said=said).wait(3, 5)


def _out_of_a_jar(pan, rng, mass_g, from_jar, said):
    """Put the jar on, tare, spoon out of it until the display shows the mass below zero."""
    if not from_jar:
        _own_cup(pan, rng, "vessel on and off", mass_g, said)
        return
    jar_g = rng.uniform(1.2, 2.0) * mass_g + rng.uniform(150, 500)
    pan.put(jar_g, 0.6).wait(4, 6).tare(said=said).wait(3, 5)
    spoons = rng.randint(1, 4)
    for _ in range(spoons):
        pan.put(-mass_g / spoons, rng.uniform(0.4, 1.0)).wait(2.0, 5.0)
    pan.wait(3, 5).put(mass_g - jar_g, 0.6).wait(4, 6)

"""How cooks weigh in on a bench scale, by habit, and what was true meanwhile.

Seeded; habits and times are the author's own idea of a kitchen (common practice, no source). Makes
cases for ``tests.watch.hands_judged``; knows no detector.
"""

import random
from dataclasses import dataclass

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
    "bump and drift", "hasty", "short and in another order", "similar masses", "one forgotten",
    "not on the sheet", "late next", "gap of the scale", "keys twice", "too much and back",
    "straight on the pan",
)  # fmt: skip


def weighing(habit, seed):
    """Return a case of ingredients on the bench scale; a mass of 0 was not weighed at all [g]."""
    rng = random.Random(f"weighing {habit} {seed}")
    wanted_g = {name: round(mass_g * rng.uniform(0.8, 1.25), 1) for name, _, _, mass_g in WARES}
    if habit == "similar masses":
        wanted_g["smoked salt"] = round(wanted_g["konjac"] * rng.uniform(1.02, 1.15), 1)
        wanted_g["beet juice"] = round(wanted_g["cocoa butter"] * rng.uniform(0.97, 1.08), 1)
    chosen = sorted(rng.sample(range(len(WARES)), rng.randint(4, 6)))
    if habit == "similar masses":
        chosen = sorted({1, 2, 3, 4} | {rng.randrange(len(WARES))})
    names = [WARES[k][0] for k in chosen]
    truth_g = {name: wanted_g[name] * rng.uniform(0.988, 1.012) for name in names}
    odd = rng.sample(names, 2)
    if habit.startswith("short"):
        truth_g[odd[0]] *= rng.uniform(0.4, 0.6)
    elif habit == "over by half":
        truth_g[odd[0]] *= rng.uniform(1.4, 1.6)
    elif habit == "one forgotten":
        truth_g[odd[0]] = 0.0
    order = list(names)
    if habit in ("other order", "short and in another order"):
        while order == names:
            rng.shuffle(order)
    pan = Pan(rng, drift_g_h=rng.uniform(-20, 20) if habit == "bump and drift" else -1.0)
    pan.do("run_start").wait(1, 2)
    if habit != "late next":
        pan.do("next").wait(3, 5)
    hand = Hand(pan, rng, habit, said=rng.random() < 0.5, odd=odd)
    hand.weigh([name for name in order if truth_g[name]], truth_g)
    if habit == "late next":
        pan.do("next", rng.uniform(5.0, pan.t_s - 10.0))
    if habit == "gap of the scale":
        from_s = rng.uniform(8.0, pan.t_s - 20.0)
        pan.silence(from_s, from_s + rng.uniform(4, 15))
    pan.wait(4, 6).do("next").wait(3, 5)
    return Case(
        work="weighing", habit=habit, seed=seed, sheet=_sheet(chosen, wanted_g),
        scale=some_scale(rng, "bench_scale"), pan=pan, weighed_g=truth_g,
    )  # fmt: skip


def _sheet(chosen, wanted_g):
    items = "".join(
        f'[[ingredient]]\nname = "{name}"\nphase = "{phase}"\n{what}\n'
        f'mass = "{wanted_g[name]} g"\ntolerance = "3 %"\n'
        for name, phase, what, _ in (WARES[k] for k in chosen)
    )
    return WEIGHING.format(items=items)


@dataclass(slots=True)
class Hand:
    """Somebody at the bench scale, with a habit; the scale says its tares or does not."""

    pan: Pan
    rng: random.Random
    habit: str
    said: bool
    odd: list[str]

    def rest(self, *between_s):
        """Wait; whoever is in haste waits a third of it, but lets the scale settle."""
        hasty = self.habit == "hasty"
        self.pan.wait(*(max(1.4, s / 3) if hasty else s for s in between_s))

    def tare(self):
        self.pan.tare(said=self.said)
        if self.habit == "keys twice" and self.rng.random() < 0.5:
            self.pan.wait(0.3, 1.5).tare(said=self.said)
        self.rest(3, 5)

    def mark(self):
        self.pan.do("mark").wait(2, 4)

    def spoon(self, mass_g):
        """Bring a mass onto the pan: most of it at once, the rest by the spoon [g]."""
        pan, rng = self.pan, self.rng
        first_g = mass_g * rng.uniform(0.85, 1.0)
        if self.habit == "too much and back" and rng.random() < 0.6:
            first_g = mass_g * rng.uniform(1.04, 1.4)
        pan.put(first_g, rng.uniform(0.6, 2.5))
        left_g = mass_g - first_g
        if left_g < 0:
            self.rest(2, 5)
        for _ in range(rng.randint(1, 3) if abs(left_g) > 0.3 else 0):
            part_g = left_g * rng.uniform(0.4, 0.8)
            pan.wait(0.5, 1.5).put(part_g, rng.uniform(0.3, 0.8))
            left_g -= part_g
        pan.put(left_g, 0.3)
        self.rest(3.5, 7)

    def weigh(self, names, truth_g):
        """Weigh all in as the habit is."""
        pan, rng, habit = self.pan, self.rng, self.habit
        own_cups = habit in ("vessel on and off", "tare below zero")
        if not own_cups and habit not in ("out of a jar", "straight on the pan"):
            pan.put(rng.uniform(60, 400), 0.6)
            self.rest(4, 6)
            self.mark() if habit == "marks" else self.tare()
        if habit == "something between portions":
            self.crossed(truth_g[names[0]], truth_g[names[1]])
            names = names[2:]
        for name in names:
            mass_g, is_odd = truth_g[name], name in self.odd
            if habit == "not on the sheet" and is_odd:
                self.stray()
            if own_cups or (habit == "out of a jar" and not is_odd):
                self.own_cup(mass_g)
            elif habit == "out of a jar":
                self.out_of_a_jar(mass_g)
            elif habit == "straight on the pan":
                self.spoon(mass_g)
                pan.put(-mass_g, 0.6)
                self.rest(3, 6)
            else:
                self.into_the_bowl(mass_g, is_odd)

    def into_the_bowl(self, mass_g, is_odd):
        pan, rng, habit = self.pan, self.rng, self.habit
        if habit == "two portions" and is_odd:
            first_g = mass_g * rng.uniform(0.35, 0.65)
            self.spoon(first_g)
            self.rest(3, 12)
            mass_g -= first_g
        if habit == "bump and drift" and rng.random() < 0.6:
            push_g = rng.uniform(0, 80)
            pan.shake(pan.t_s, pan.t_s + rng.uniform(0.3, 1.5), rng.uniform(5, 60), push_g)
            pan.wait(2, 5)
        self.spoon(mass_g)
        if habit == "marks":
            self.mark()
        elif habit != "poured on":
            self.tare()

    def crossed(self, first_g, second_g):
        """An ingredient in two portions, another one weighed between them, tared each time [g]."""
        share = self.rng.uniform(0.5, 0.7)
        for mass_g in (first_g * share, second_g, first_g * (1 - share)):
            self.spoon(mass_g)
            self.tare()

    def stray(self):
        """Something that is not on the sheet, put down on the pan and taken off: a phone, a lid."""
        mass_g = self.rng.uniform(30, 220)
        self.pan.put(mass_g, 0.5).wait(2, 8).put(-mass_g, 0.5)
        self.rest(3, 5)

    def own_cup(self, mass_g):
        """Cup on, tare, fill, cup off; the display is then below zero, and perhaps tared there."""
        cup_g = self.rng.uniform(25, 140)
        self.pan.put(cup_g, 0.5)
        self.rest(4, 6)
        self.tare()
        self.spoon(mass_g)
        self.pan.put(-cup_g - mass_g, 0.6)
        self.rest(4, 6)
        if self.habit == "tare below zero":
            self.tare()

    def out_of_a_jar(self, mass_g):
        """Jar on, tare, spoon out of it until the display shows the mass below zero [g]."""
        pan, rng = self.pan, self.rng
        jar_g = rng.uniform(1.2, 2.0) * mass_g + rng.uniform(150, 500)
        pan.put(jar_g, 0.6)
        self.rest(4, 6)
        self.tare()
        spoons = rng.randint(1, 4)
        for _ in range(spoons):
            pan.put(-mass_g / spoons, rng.uniform(0.4, 1.0)).wait(2.0, 5.0)
        pan.wait(3, 5).put(mass_g - jar_g, 0.6).wait(4, 6)

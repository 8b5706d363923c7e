"""Seeded pours as clumsy hands make them, on a scale of the virtual bench, with the truth.

Each trace is a way of pouring (in one go, by ladle, in several goes) and what happens besides. Not
what the detector assumes: ladles of uneven fill that drain, hands on the rim, bowls eased down,
drips, a whisk, tares, silence of the scale.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from logger.virtual.bodies.loads import Load, Scale, weigh

SALT_G = (2.0, 45.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandPour:
    """Readings of a bowl scale, what there was to pour, and what truly went in.

    Attributes
    ----------
    habit : str
        What happens besides pouring.
    t_s, mass_g : ndarray
        Readings [s], [g].
    poured_g : float
        Truth [g].
    hidden_g : float
        Fat or something else that came where the scale can't see what it was [g].
    there_g, into_g : float
        Phase that is poured, as weighed in, and the phase it is poured into [g].
    from_s, to_s : float
        The stage [s].
    others_s : tuple of float
        When something else came, for a person who is asked [s].
    """

    habit: str
    way: str
    t_s: np.ndarray
    mass_g: np.ndarray
    poured_g: float
    hidden_g: float
    there_g: float
    into_g: float
    from_s: float
    to_s: float
    step_g: float
    others_s: tuple[float, ...]

    def was_poured(self, from_s: float, to_s: float) -> bool:
        """Say whether what came between two times [s] was poured, as a person would."""
        return not any(from_s - 2.0 <= at_s <= to_s + 2.0 for at_s in self.others_s)


@dataclass(slots=True)
class _Scene:
    """A trace while it is made up."""

    rng: np.random.Generator
    load: Load
    now: float
    bowl_g: float
    into_g: float
    there_g: float
    want_g: float
    way: str
    poured_g: float = 0.0
    hidden_g: float = 0.0
    other_g: float = 0.0
    from_s: float = 0.0
    others_s: list[float] = field(default_factory=list)
    silent: list[tuple[float, float]] = field(default_factory=list)

    def u(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def rest(self, low_s: float, high_s: float) -> None:
        self.now += self.u(low_s, high_s)

    @property
    def on_g(self) -> float:
        return self.bowl_g + self.into_g + self.poured_g + self.other_g

    # Ways of pouring; each pours so much from now on.

    def pour(self, mass_g: float) -> None:
        {"smooth": self.flow, "ladle": self.ladle, "goes": self.goes}[self.way](mass_g)

    def flow(self, mass_g: float) -> None:
        """A stream by hand: slow start, wandering rate, the last of it scraped out."""
        rate, keep, drift, masses = self.u(0.8, 4.0), float(np.exp(-0.1 / 5.0)), 0.0, [0.0]
        while masses[-1] < mass_g - 0.03 and len(masses) < 6000:
            drift = keep * drift + 0.35 * np.sqrt(1 - keep**2) * self.rng.standard_normal()
            start = min(1.0, 0.3 + len(masses) / 25.0)
            ends = min(1.0, (mass_g - masses[-1]) / (0.05 * mass_g) + 0.15)
            masses.append(
                min(masses[-1] + 0.1 * rate * start * ends * float(np.exp(drift)), mass_g)
            )
        masses[-1] = mass_g
        self._profile(np.asarray(masses))

    def ladle(self, mass_g: float) -> None:
        fill_g, pace_s = self.u(9.0, 38.0), self.u(4.0, 22.0)
        left_g = mass_g
        while left_g > 0.2:
            one_g = min(left_g, fill_g * self.u(0.75, 1.2))
            if left_g - one_g < 2.0:
                one_g = left_g
            drains_s = self.u(0.25, 0.8)
            t = np.arange(0.0, 8.0 * drains_s + 0.1, 0.1)
            if self.rng.random() < 0.4:  # the ladle knocks the rim
                self.load.knocks.append((self.now, self.u(-10.0, 35.0), self.u(0.3, 1.2)))
            masses = one_g * (1.0 - np.exp(-t / drains_s))
            masses[-1] = one_g
            self._profile(masses, wait=False)
            left_g -= one_g
            if left_g > 0.2:
                self.now += max(float(t[-1]), pace_s * self.u(0.6, 1.6))
        self.now += 2.0

    def goes(self, mass_g: float) -> None:
        shares = self.rng.dirichlet(np.full(int(self.rng.integers(2, 5)), 4.0))
        for place, share in enumerate(shares):
            self.flow(mass_g * float(share))
            if place < len(shares) - 1:
                self.rest(4.0, 45.0)

    def _profile(self, masses: np.ndarray, *, wait: bool = True) -> None:
        times = self.now + 0.1 * np.arange(masses.size)
        self.load.profiles.append((times, masses, float("inf")))
        self.poured_g += float(masses[-1])
        if wait:
            self.now = float(times[-1])

    # What else hands do.

    def lift(self, gains_g: float = 0.0, ease_s: float | None = None) -> None:
        """Lift the bowl off and put it back, heavier or lighter by so much."""
        self.load.knocks.append((self.now - 0.8, self.u(5.0, 40.0), 0.8))
        off_g = self.on_g
        self.load.put(self.now, -off_g, self.u(0.2, 0.7))
        self.rest(4.0, 40.0)
        self.load.put(self.now, off_g + gains_g, ease_s or self.u(0.3, 1.2))
        self.load.knocks.append((self.now + 0.5, self.u(5.0, 30.0), 0.7))
        self.now += (ease_s or 1.2) + 0.5

    def put_in(self, mass_g: float) -> None:
        """Tip something else in: at once, or off a spoon in some moments."""
        self.load.put(self.now, mass_g, self.u(0.2, 1.4))
        self.others_s.append(self.now)
        self.other_g += mass_g
        self.now += 1.6

    def tare(self) -> None:
        self.load.tares_s.append(self.now)


def _plain(s: _Scene) -> None:
    s.pour(s.want_g)


def _parted(
    s: _Scene, between: Callable[[], None], low_s: float = 3.0, high_s: float = 15.0
) -> None:
    share = s.u(0.25, 0.75)
    s.pour(share * s.want_g)
    s.rest(low_s, high_s)
    between()
    s.rest(low_s, high_s)
    s.pour(s.want_g - s.poured_g)


def _interrupted(s: _Scene) -> None:
    _parted(s, lambda: None, 8.0, 40.0)


def _gap(s: _Scene) -> None:
    """The scale is unplugged for a while in the middle of it."""
    begins_s = s.now
    s.pour(s.want_g)
    at_s = begins_s + s.u(0.1, 0.8) * (s.now - begins_s)
    s.silent.append((at_s, at_s + s.u(4.0, 30.0)))


def _gap_in_pause(s: _Scene) -> None:
    def silent() -> None:
        s.silent.append((s.now, s.now + s.u(4.0, 20.0)))
        s.now = s.silent[-1][1]

    _parted(s, silent)


def _lifted(s: _Scene) -> None:
    _parted(s, s.lift)


def _lifted_gains(s: _Scene) -> None:
    """Something comes while the bowl is away: fat from the pan, or not."""

    def gain() -> None:
        gains_g = s.u(3.0, 25.0)
        s.lift(gains_g)
        s.hidden_g = gains_g
        if s.rng.random() < 0.5:
            s.poured_g += gains_g
        else:
            s.other_g += gains_g
            s.others_s.append(s.now - 1.0)

    _parted(s, gain)


def _ingredient(s: _Scene) -> None:
    _parted(s, lambda: s.put_in(s.u(*SALT_G)))


def _other_phase(s: _Scene) -> None:
    """The other phase is put in first, in this stage: poured, or at once."""
    into_g, s.into_g = s.into_g, 0.0
    if s.rng.random() < 0.7:
        s.flow(into_g)
        s.poured_g -= into_g
    else:
        s.load.put(s.now, into_g, s.u(1.5, 5.0))
        s.now += 5.0
    s.into_g = into_g
    s.others_s.append(s.now)
    s.rest(6.0, 40.0)
    s.pour(s.want_g)


def _put_back(s: _Scene) -> None:
    """The bowl is put back slowly just before, or after."""
    before = s.rng.random() < 0.5
    if before:
        s.lift(ease_s=s.u(1.0, 3.5))
        s.rest(3.0, 12.0)
    s.pour(s.want_g)
    if not before:
        s.rest(4.0, 12.0)
        s.lift(ease_s=s.u(1.0, 3.5))


def _before_stage(s: _Scene) -> None:
    begins_s = s.now
    s.pour(s.want_g)
    s.from_s = begins_s + min(s.u(8.0, 30.0), 0.7 * (s.now - begins_s))


def _drips(s: _Scene) -> None:
    s.pour(s.want_g)
    for _ in range(int(s.rng.integers(2, 8))):
        s.rest(1.0, 4.0)
        drop_g = s.u(0.1, 0.7)
        s.load.put(s.now, drop_g, 0.15)
        s.poured_g += drop_g


def _taste(s: _Scene) -> None:
    """A spoonful is taken out; what was poured was poured."""

    def out() -> None:
        spoon_g = s.u(4.0, 20.0)
        s.load.put(s.now, -spoon_g, 0.4)
        s.other_g -= spoon_g

    _parted(s, out, 5.0, 15.0)


def _whisked(s: _Scene) -> None:
    begins_s = s.now
    s.load.shaken.append((begins_s - s.u(3.0, 20.0), 1e9, s.u(0.3, 2.0)))
    whisk_g = s.u(30.0, 110.0)
    s.load.put(begins_s - 25.0, whisk_g, 0.3)
    s.others_s.append(begins_s - 25.0)
    s.pour(s.want_g)
    if s.rng.random() < 0.5:
        s.rest(6.0, 20.0)
        s.load.put(s.now, -whisk_g, 0.3)


def _tare(s: _Scene) -> None:
    if s.rng.random() < 0.5:
        _parted(s, s.tare)
        return
    begins_s = s.now
    s.pour(s.want_g)
    s.load.tares_s.append(begins_s + s.u(0.2, 0.8) * (s.now - begins_s))


def _leaning(s: _Scene) -> None:
    begins_s = s.now
    s.pour(s.want_g)
    for _ in range(int(s.rng.integers(1, 4))):
        at_s = s.u(begins_s - 5.0, s.now + 4.0)
        force_g, holds_s = s.u(-40.0, 90.0), s.u(0.6, 5.0)
        s.load.put(at_s, force_g, 0.3)
        s.load.put(at_s + holds_s, -force_g, 0.3)


HABITS: dict[str, Callable[[_Scene], None]] = {
    "plain": _plain,
    "interrupted": _interrupted,
    "scale silent in it": _gap,
    "scale silent in a pause": _gap_in_pause,
    "bowl lifted": _lifted,
    "came while lifted": _lifted_gains,
    "ingredient between": _ingredient,
    "other phase first": _other_phase,
    "bowl put back": _put_back,
    "begun before its stage": _before_stage,
    "drips": _drips,
    "taste taken": _taste,
    "stirred": _whisked,
    "tared": _tare,
    "leaned on": _leaning,
}
WAYS = ("smooth", "ladle", "goes")


def hand_pour(seed: int) -> HandPour:
    """Draw a pour; the seed also chooses habit and way, all in turn."""
    rng = np.random.default_rng([seed, 77])
    habit = list(HABITS)[seed % len(HABITS)]
    way = WAYS[(seed // len(HABITS)) % len(WAYS)]
    there_g = float(rng.uniform(60.0, 400.0))
    want_g = there_g * (float(rng.uniform(0.6, 0.95)) if rng.random() < 0.2 else 1.0)
    want_g -= float(rng.uniform(0.2, 0.015 * there_g + 0.2))
    into_g = there_g * float(rng.uniform(0.5, 3.0))
    s = _Scene(
        rng=rng, load=Load(), now=float(rng.uniform(45.0, 70.0)),
        bowl_g=float(rng.uniform(150.0, 900.0)), into_g=into_g, there_g=there_g, want_g=want_g,
        way=way,
    )  # fmt: skip
    first_g = s.bowl_g + (0.0 if habit == "other phase first" else into_g)
    s.load.put(8.0, first_g, s.u(0.4, 1.5))
    if rng.random() < 0.5:
        s.load.tares_s.append(14.0)
    HABITS[habit](s)
    to_s = s.now + float(rng.uniform(24.0, 60.0))
    step_g = float(rng.choice((0.1, 0.1, 0.5, 1.0)))
    rate_hz = float(rng.choice((5.0, 10.0)))
    t = np.arange(0.0, to_s, 1.0 / rate_hz)
    scale = Scale(step_g=step_g, noise_g=float(rng.uniform(0.03, 0.15)), lag_s=s.u(0.1, 0.4))
    shown = weigh(scale, s.load, t, rng).value_g
    seen = np.ones(t.size, dtype=bool)
    for from_s, until_s in s.silent:
        seen &= (t < from_s) | (t >= until_s)
    return HandPour(
        habit=habit, way=way, t_s=t[seen], mass_g=shown[seen], poured_g=s.poured_g,
        hidden_g=s.hidden_g, there_g=there_g, into_g=into_g, from_s=s.from_s, to_s=to_s,
        step_g=step_g, others_s=tuple(s.others_s),
    )  # fmt: skip

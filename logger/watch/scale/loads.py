"""Settled loads on a scale: when it is at rest, and one load after another on it.

Pure; used by the watchers of stages that weigh. Believes the scale's own stability mark where it
gives one, and else waits until the last second is within a few display steps. Knows nothing of
pieces but how heavy one may be: a tray, a hand or a spoon weighs otherwise and does not count.
"""

import math
from collections import deque
from dataclasses import dataclass
from typing import Literal

from logger.correct.channel import Corrector, difference_uncertainty
from logger.model.event import Event
from logger.model.reading import Flag, Reading
from logger.watch.engine.contract import Context

WINDOW_NS = 1_000_000_000
"""Readings that are looked at for rest [ns]."""
FEWEST = 3
"""Readings that a level needs."""
STEPS = 2.5
"""Range of the window in display steps within which it is at rest."""
NOISE_SHARE = 1e-4
"""The same as a share of the load, for scales whose step is finer than their noise."""
HOLD_NS = 1_000_000_000
"""How long a level must hold before it counts [ns]: a piece is let go by then."""
USUAL_STEP_G = 1.0
"""Coarsest usual display step [g]: typical, unverified."""
FINEST_PLACES = 3
"""Decimals of the finest display of grams: typical, unverified."""
LIGHTEST_G = 2.0
"""Least that counts as something on the scale [g]."""
MOVED_STEPS = 1.5
"""A load at rest has changed by more display steps than this."""
_LIFTED_SHARE = 0.05
"""A load of which no more than this share is left on the scale was lifted."""
_KEPT_VALUES = 14
"""So many values and one more make the level."""
FRESH_NS = 10_000_000_000
"""A reading older than this does not say what is on the scale now [ns]."""

_STABLE, _UNSTABLE = int(Flag.STABLE), int(Flag.UNSTABLE)

Range = tuple[float, float]


class DisplayStep:
    """The step of a display that nobody stated, learned from what it shows.

    A move by more than `USUAL_STEP_G` may be a load or a touch: it counts as a step only where the
    display flickers by it twice, to a value and straight back. Until a step was seen, the last
    decimal that is shown stands for it, and never more than `USUAL_STEP_G`.
    """

    def __init__(self) -> None:
        self.step_g: float | None = None
        self._seen_g = math.inf
        self._shown: deque[float] = deque(maxlen=3)
        """Last readings, oldest first."""
        self._flickered_g = math.nan
        self._decimal_g = USUAL_STEP_G

    def take(self, value_g: float) -> None:
        """Take a reading [g]."""
        shown = self._shown
        shown.append(value_g)
        if len(shown) < 2 or value_g == shown[-2]:
            return
        jump_g = abs(value_g - shown[-2])
        flickers, again = len(shown) == 3 and value_g == shown[0], False
        if flickers:
            again = math.isclose(jump_g, self._flickered_g, rel_tol=1e-3)
            self._flickered_g = jump_g
        if (jump_g <= USUAL_STEP_G or again) and jump_g < 0.999 * self._seen_g:
            self._seen_g = jump_g
        self._decimal_g = min(self._decimal_g, _last_decimal(value_g))
        seen = math.isfinite(self._seen_g)
        self.step_g = self._seen_g if seen else self._decimal_g


def _last_decimal(value_g: float) -> float:
    """Return the place of the last decimal of a value [g]; 1 where it is whole, or is no number as
    displays show it but one that was corrected."""
    for places in range(FINEST_PLACES + 1):
        if abs(value_g - round(value_g, places)) < 1e-6:
            return float(10.0**-places)
    return USUAL_STEP_G


class StabilityDetector:
    """Detects when a scale is at rest, and at which mass.

    Parameters
    ----------
    step_g : float or None
        Display step [g]; None learns it from the readings.
    steps : float
        Range of the window in display steps within which it is at rest [1].
    apart_steps : float
        How many display steps two readings may be apart that the scale itself calls stable [1].

    Attributes
    ----------
    noise_g : float
        Range of the window that is noise, where its owner knows it [g].
    """

    def __init__(
        self, step_g: float | None, steps: float = STEPS, apart_steps: float = 0.0
    ) -> None:
        self._stated_g = step_g
        self._display = DisplayStep()
        self.steps, self.apart_steps = steps, apart_steps
        self.noise_g = 0.0
        self._window: deque[Reading] = deque()

    @property
    def step_g(self) -> float | None:
        """Display step [g]: as stated, else as learned so far; None before it has moved."""
        return self._display.step_g if self._stated_g is None else self._stated_g

    def take(self, reading: Reading) -> Reading | None:
        """Take one reading; return the level as a reading while at rest."""
        value = reading.value
        if value is None:
            self.clear()
            return None
        if self._stated_g is None:
            self._display.take(value)
        window = self._window
        window.append(reading)
        while reading.t_ns - window[0].t_ns > WINDOW_NS:
            window.popleft()
        if reading.flags & _UNSTABLE or len(window) < FEWEST:
            return None
        values = [r.value for r in window if r.value is not None]
        spread_g = max(values) - min(values)
        if reading.flags & _STABLE:
            reach_g = self.apart_steps * (self.step_g or 0.0)
            return reading if abs(values[-1] - values[-2]) <= reach_g else None
        long_enough = reading.t_ns - window[0].t_ns >= 0.7 * WINDOW_NS
        if not long_enough or spread_g > self.rest_g(value):
            return None
        return reading._replace(value=sorted(values)[len(values) // 2])

    def rest_g(self, value_g: float) -> float:
        """Return the range within which the scale counts as at rest at a load [g]."""
        return max(self.steps * (self.step_g or 0.0), NOISE_SHARE * abs(value_g), self.noise_g)

    def mean_g(self, near_g: float) -> float:
        """Return the mean of the window near a value [g]: finer than the display's step."""
        reach_g = self.rest_g(near_g)
        values = [r.value for r in self._window if r.value is not None]
        near = [value for value in values if abs(value - near_g) <= reach_g]
        return sum(near) / len(near) if near else near_g

    def clear(self) -> None:
        """Forget the window: after a gap or a tare."""
        self._window.clear()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadChange:
    """What changed on the scale by the time it was at rest.

    Attributes
    ----------
    what : str
        ``on``: a load that may be a piece; ``changed``: the same load now reads otherwise; ``off``:
        it is gone.
    mass_g, u_g : float
        The load, net of what lay beneath it, and its standard uncertainty [g]; NaN when unknown.
    t_ns : int
        When the level had held long enough [ns].
    on_top : bool
        An ``on`` that came while another load was lying there.
    """

    what: Literal["on", "changed", "off"]
    mass_g: float
    u_g: float
    t_ns: int
    on_top: bool = False


class LoadDetector:
    """Detects loads that are put on a scale, put right, taken off.

    Parameters
    ----------
    context : Context
        Of the stage.
    channel : str or None
        Channel id of the scale; None where the bench has none.

    Attributes
    ----------
    may_weigh_g : tuple or None
        Least and most that a load which counts may weigh [g]; None lets anything count.
    base, load : Reading or None
        Level beneath the load; level with it, None while nothing is there.
    counted : bool
        Whether the load under way was given out with ``on``.
    """

    def __init__(self, context: Context, channel: str | None) -> None:
        self.channel = channel
        step_g = next((c.resolution for c in context.bench.channel if c.id == channel), None)
        self.corrector: Corrector | None = context.correctors.get(channel or "")
        self.may_weigh_g: Range | None = None
        self.steady = StabilityDetector(step_g)
        self.base: Reading | None = None
        self.load: Reading | None = None
        self.counted = False
        self.last: Reading | None = None
        self._held: Reading | None = None
        """First reading of the rest under way."""
        self._values_g: list[float] = []
        """Last values since."""

    def take(self, reading: Reading) -> LoadChange | None:
        """Take one reading of any channel; return the change that it shows, if any."""
        if reading.channel != self.channel:
            return None
        if reading.value is not None:
            self.last = reading
            if self._gone(reading.value):
                return self._taken_off(reading.t_ns)
        level = self.steady.take(reading)
        if level is None and reading.flags & _STABLE:
            level = reading
        value, held = reading.value, self._held
        if value is None or held is None or not self._still(value):
            self._held, self._values_g = level, []
            return None
        self._values_g = [*self._values_g[-_KEPT_VALUES:], value]
        if reading.flags & _UNSTABLE or reading.t_ns - held.t_ns < HOLD_NS:
            return None
        middle_g = sorted(self._values_g)[len(self._values_g) // 2]
        return self._at_rest(reading._replace(value=middle_g), middle_g)

    def event(self, event: Event) -> None:
        """Take a gap: what the scale did meanwhile is not known."""
        if event.kind == "gap" and event.channel == self.channel:
            self.steady.clear()
            self._held = None

    def reach_g(self, value_g: float) -> float:
        """Return the change that still counts as the same level [g]."""
        return max(self.steady.rest_g(value_g), 3.0 * (self.steady.step_g or 0.0))

    def moved_g(self, value_g: float) -> float:
        """Return the change by which a load at rest has become another, as by a drop that fell [g]:
        more than the flicker of the last digit."""
        return max(MOVED_STEPS * (self.steady.step_g or 0.0), NOISE_SHARE * abs(value_g))

    def count(self) -> LoadChange | None:
        """Count what is there, whatever it weighs: the operator says it is a piece."""
        if self.load is None or self.counted:
            return None
        self.counted = True
        return self._step("on", self.load)

    def net_now(self, t_ns: int) -> tuple[float | None, float]:
        """Return what is on the scale now and its standard uncertainty [g]."""
        last, base = self.last, self.base
        if last is None or last.value is None or base is None or t_ns - last.t_ns > FRESH_NS:
            return None, math.nan
        return last.value - (base.value or 0.0), self.u_of(last)

    def u_of(self, level: Reading) -> float:
        """Return the standard uncertainty of a level above the base [g]; NaN when unknown."""
        base = self.base
        if base is None or base.value is None or level.value is None:
            return math.nan
        if self.corrector is None:
            return math.hypot(level.u, base.u)
        return difference_uncertainty(self.corrector, level.value, self.corrector, base.value)

    def _still(self, value_g: float | None) -> bool:
        """Return whether a value is still that of the level under way, noise apart."""
        held = self._held
        if held is None or held.value is None or value_g is None:
            return False
        return abs(value_g - held.value) <= 2.0 * self.reach_g(value_g)

    def _gone(self, value_g: float) -> bool:
        """Return whether the load was lifted: one reading shows it."""
        if self.load is None or self.base is None:
            return False
        beneath_g = self.base.value or 0.0
        load_g = (self.load.value or 0.0) - beneath_g
        return value_g - beneath_g <= max(self.reach_g(value_g), _LIFTED_SHARE * load_g)

    def _taken_off(self, t_ns: int) -> LoadChange | None:
        step = None
        if self.counted and self.load is not None:
            step = self._step("off", self.load._replace(t_ns=t_ns))
        self.load, self.counted, self._held = None, False, None
        self.steady.clear()
        return step

    def _at_rest(self, level: Reading, value: float) -> LoadChange | None:
        if self.base is None:
            self.base = level
            return None
        net_g, reach_g = value - (self.base.value or 0.0), self.reach_g(value)
        if self.load is None:
            if net_g < LIGHTEST_G:
                self.base = level
                return None
            self.load = level
            return self._try(level, net_g)
        change_g = value - (self.load.value or 0.0)
        if abs(change_g) <= reach_g:
            if not self.counted or abs(change_g) <= self.moved_g(value) or not self._may(net_g):
                return None
            self.load = level
            return self._step("changed", level)
        if change_g >= LIGHTEST_G and self.may_weigh_g is not None and self._may(change_g):
            self.base, self.load, self.counted = self.load, level, False
            return self._try(level, change_g, on_top=True)
        if self.may_weigh_g is None and change_g >= 0.3 * (net_g - change_g):
            self.base, self.load, self.counted = self.load, level, False
            return self._try(level, change_g, on_top=True)
        self.load = level
        if not self.counted:
            return self._try(level, net_g)
        return self._step("changed", level) if self._may(net_g) else None

    def _try(self, level: Reading, net_g: float, *, on_top: bool = False) -> LoadChange | None:
        if not self._may(net_g):
            return None
        self.counted = True
        return self._step("on", level, on_top=on_top)

    def _may(self, net_g: float) -> bool:
        low_g, high_g = self.may_weigh_g or (LIGHTEST_G, math.inf)
        return low_g <= net_g <= high_g

    def _step(
        self, what: Literal["on", "changed", "off"], level: Reading, *, on_top: bool = False
    ) -> LoadChange:
        base_g = (self.base.value or 0.0) if self.base is not None else 0.0
        return LoadChange(
            what=what,
            mass_g=(level.value or 0.0) - base_g,
            u_g=self.u_of(level),
            t_ns=level.t_ns,
            on_top=on_top,
        )

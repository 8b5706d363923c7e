"""Pours, seen by the bowl scale: when they begin and end, how much, in how many portions.

Pure. Fed readings in time order and looked at once a second, so that nothing depends on how the
stream was cut. One pour is what lies between the level before it and the level after it, less what
was put in, taken out or tared meanwhile: logger.watch.scale.pour_levels gives the levels,
logger.watch.scale.pour_parts says what each change was. Beginning and end of what flows are told by
logger.watch.scale.pour_ends. Used by logger.watch.stages.emulsify.poured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from logger.science.statistics.pourstart import PourStart
from logger.watch.scale.change import Change
from logger.watch.scale.pour_ends import PourEnds
from logger.watch.scale.pour_hands import PUSH_S, Plan
from logger.watch.scale.pour_levels import Levels
from logger.watch.scale.pour_parts import parts_of
from logger.watch.scale.pour_seen import Part, meanwhile_g

LOOK_BACK_S = 1800.0
"""What ended so long before a stage is not looked at [s]."""
PAUSE_S = 20.0
"""A pour that pauses longer is over, until it goes on."""
APART_S = 120.0
"""What comes so long after is another pour."""
PORTION_S = 12.0
"""What flows on after a shorter pause belongs to one portion."""
DRIPS_S = 20.0
"""Drips that fall so soon after belong to a pour."""
SAME_S = 1.0
"""A change that begins so near another is the same, seen a second later [s]."""
LAST_S, WORTH_G, WORTH = 60.0, 1.0, 4.0
"""So does a last drop that comes later but is so much [g] and so many standard uncertainties."""
LEADS_S = 4.0
"""What comes so soon before a pour belongs to it."""
OVER_S = 3.0
"""Without a rise for so long, a pour is over when its stage ends."""
SHAKEN_S, SHAKEN_G, SHAKEN_STEPS = 5.0, 1.2, 2.5
"""A bowl is shaken whose readings of so long [s] differ by so much [g] and so many steps."""
SHAKEN_AT_MOST_S = 60.0
"""A bowl that is shaken as its stage ends is waited for so long [s]."""
STANDS_S = 20.0
"""What came at once is told as poured, or asked about, when it has stayed so long."""
FLOWS_S, FLOWS_SHARE = 6.0, 0.7
"""A rate is that of portions of so long at least, if so much of the pour came in them."""
LIKELY, LITTLE_G = 0.9, 30.0
"""Less than this [g] is a pour only where it is as likely as this that something came."""
Z_90 = 1.645
"""Of a normal distribution, 90 % lie within so many standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """One pour.

    Attributes
    ----------
    start_s : float
        Beginning on the run's axis [s].
    end_s : float or None
        End [s]; None while it runs.
    mass_g : float
        Poured so far [g], above 0 in either direction.
    u_mass_g : float
        Standard uncertainty [g] from the levels: noise, stirring, steps of the display, gaps.
    portions : int
        In how many portions it came.
    flowed_g, flowed_s : float
        What flowed in portions long enough for a rate [g], and how long that took [s].
    start_between_s, end_between_s : tuple of float or None
        Where beginning and end lie with a probability of 90 % [s]; wide where a touch hides them.
    """

    start_s: float
    end_s: float | None
    mass_g: float
    u_mass_g: float
    portions: int = 1
    flowed_g: float = 0.0
    flowed_s: float = 0.0
    start_between_s: tuple[float, float] | None = None
    end_between_s: tuple[float, float] | None = None

    @property
    def u_lasted_s(self) -> float:
        """Standard uncertainty of how long it lasted [s], as far as its ends are known."""
        spans = (self.start_between_s, self.end_between_s)
        return math.hypot(*((b - a) / (2.0 * Z_90) for a, b in (s for s in spans if s)))

    @property
    def rate_g_per_min(self) -> float | None:
        """Mean rate of what flowed [g/min]; None where most came at once or unseen."""
        if self.flowed_s <= 0.0 or self.flowed_g < FLOWS_SHARE * self.mass_g:
            return None
        return 60.0 * self.flowed_g / self.flowed_s


class PourDetector:
    """Tell the pours on one scale.

    Parameters
    ----------
    gives : bool
        Whether the vessel on the scale gives (the reading falls) instead of receiving.
    step_g : float
        Step of the display [g].
    plan : Plan, optional
        What there was to pour.
    from_s : float
        When the stage began [s]; changes that ended long before are never looked at.
    levels : Levels, optional
        Of a scale that is followed already; without them readings are added here.
    """

    def __init__(
        self,
        *,
        gives: bool = False,
        step_g: float = 0.1,
        plan: Plan | None = None,
        from_s: float = 0.0,
        levels: Levels | None = None,
    ) -> None:
        self.pours: list[Pour] = []
        self.plan = plan or Plan()
        self.answers: dict[str, bool] = {}
        """What a person said of open parts, by their keys: True for poured."""
        self.levels = levels or Levels(step_g)
        self._own = levels is None
        self.from_s = from_s
        """From when on pours count [s]."""
        self._gives, self._step_g = gives, step_g
        self._ends = PourEnds(self.levels, step_g=step_g, gives=gives)
        self._parts: list[Part] = []
        self._state: tuple[object, ...] | None = None
        self._finished = False
        self._stage_over_s: float | None = None

    @property
    def running(self) -> bool:
        """Whether a pour is under way."""
        return bool(self.pours) and self.pours[-1].end_s is None

    @property
    def poured_g(self) -> float:
        """Mass of all pours so far [g]."""
        return sum(pour.mass_g for pour in self.pours)

    def add(self, time_s: float, mass_g: float) -> None:
        """Take one reading: time on the run's axis [s] and mass shown [g]."""
        self.levels.add(time_s, mass_g)

    def look(self, now_s: float) -> Pour | None:
        """Look at what came up to a whole second [s]; return a pour that just began or ended."""
        if self._own:
            self.levels.look(now_s)
        was = [(pour.start_s, pour.end_s is None) for pour in self.pours]
        self._work_out(now_s)
        if len(self.pours) > len(was):
            return self.pours[-1]
        if self.pours and was and was[-1][1] != self.running:
            return self.pours[-1]
        return None

    def finish(self, now_s: float) -> Pour | None:
        """End a pour at a time [s] if it seems over though its pause has not been long; return it.

        One that rose within the last seconds stays without an end: it was still going on. So does
        one while the bowl is shaken: a whisk or a hand may push it.
        """
        ran, self._finished = self.running, True
        if self._stage_over_s is None:
            self._stage_over_s = now_s
        self._work_out(now_s)
        return self.pours[-1] if ran and not self.running else None

    def go_on(self) -> None:
        """Take back that all has ended: what was still going on is followed further."""
        self._finished = False

    def begin_again(self, plan: Plan) -> None:
        """Go on in a stage that is begun once more: what was poured in it before still counts.

        Parameters
        ----------
        plan : Plan
            What there is to pour by now.
        """
        self.plan, self._stage_over_s = plan, None
        self.go_on()

    def asked(self, now_s: float) -> list[Part]:
        """Return the parts of which the scale can't tell whether they were poured.

        Parameters
        ----------
        now_s : float
            Time on the run's axis [s]; what came just now may go again.
        """
        return [
            p
            for p in self._parts
            if not p.sure and (self._finished or now_s - p.change.end_s >= STANDS_S)
        ]

    @property
    def other_phase_g(self) -> float:
        """Mass of the phase that is poured into, where it came in this stage [g]."""
        return sum(p.by_g for p in self._parts if p.role == "other phase" and p.sure)

    def _work_out(self, now_s: float) -> None:
        levels = self.levels
        state = (levels.version, self.from_s, self.plan, tuple(sorted(self.answers.items())))
        if state != self._state:
            self._state = state
            parts = parts_of(
                [c for c in levels.changes if c.end_s > self.from_s - LOOK_BACK_S],
                self.plan,
                from_s=self.from_s,
                gives=self._gives,
                answers=self.answers,
            )
            self._parts = parts if self._finished else _with_seen(parts, self._parts)
        groups = _groups(self._parts, now_s, at_end=self._finished)
        if not self._finished:  # what may be a thing put in is no pour yet
            groups = [g for g in groups if any(p.counted and p.sure for p in g)]
        pours = [self._pour(group, now_s, last=group is groups[-1]) for group in groups]
        self.pours = [pour for pour in pours if pour is not None]

    def _pour(self, group: Sequence[Part], now_s: float, *, last: bool) -> Pour | None:
        counted = [p for p in group if p.counted]
        first = group[0] if group[0].counted else replace(counted[0], change=group[0].change)
        began = self._ends.began(first, now_s)
        mass_g, u_g = _mass(group)
        if mass_g < LITTLE_G and counted[0].flows and began.chance < LIKELY:
            return None
        quiet_s = OVER_S if self._finished else PAUSE_S
        over = not counted[-1].change.going and now_s - counted[-1].change.end_s > quiet_s
        over = over and not (last and self._shaken(now_s))
        ended = self._ends.ended(counted[-1], now_s) if over or not last else None
        spans = _portions(counted)
        start_s = began.at_s
        end_s = None if ended is None else max(ended.at_s, start_s + 0.5)
        flowed = [_seen(span, began, ended, spans) for span in spans]
        flowed = [(g, s) for g, s in flowed if s >= FLOWS_S]
        return Pour(
            start_s=start_s,
            end_s=end_s,
            mass_g=max(mass_g, 0.0),
            u_mass_g=u_g,
            portions=len(spans),
            flowed_g=sum(g for g, _ in flowed),
            flowed_s=sum(s for _, s in flowed),
            start_between_s=(began.early_s, began.late_s),
            end_between_s=None
            if ended is None or end_s is None
            else (min(ended.early_s, end_s), max(ended.late_s, end_s)),
        )

    def _shaken(self, now_s: float) -> bool:
        """Return whether the bowl is shaken by a time [s], soon after its stage has ended."""
        if self._stage_over_s is None or now_s > self._stage_over_s + SHAKEN_AT_MOST_S:
            return False
        _, shown_g = self.levels.readings(now_s - SHAKEN_S, now_s)
        most_g = max(SHAKEN_G, SHAKEN_STEPS * self._step_g)
        return shown_g.size > 0 and float(np.ptp(shown_g)) > most_g


def _with_seen(parts: list[Part], before: Sequence[Part]) -> list[Part]:
    """Return the parts with what was seen to flow until the bowl is being lifted off.

    For a moment the flow and the lift look like one change, which goes down.
    """
    last = parts[-1] if parts else None
    if last is None or not last.change.going or last.by_g >= 0.0:
        return parts
    flow = before[-1] if before else None
    begins = flow is not None and abs(flow.change.start_s - last.change.start_s) <= SAME_S
    if flow is None or not (begins and flow.counted and flow.flows):
        return parts
    return [*parts[:-1], flow]


def _groups(parts: list[Part], now_s: float, *, at_end: bool) -> list[list[Part]]:
    """Return the parts of each pour with what lies between them; drips after it belong to it."""
    groups: list[list[Part]] = []
    between: list[Part] = []
    for part in parts:
        change = part.change
        fresh = not at_end and now_s - change.end_s < STANDS_S and not part.sure
        if part.counted and not fresh and (part.flows or not change.going):
            counted = [p for p in groups[-1] if p.counted] if groups else []
            pause_s = change.start_s - counted[-1].change.end_s if counted else math.inf
            if pause_s <= APART_S:
                groups[-1] += [*between, part]
            else:
                groups.append([*_leading(between, part), part])
            between = []
        elif groups and not between and _belongs_after(part, groups[-1][-1]):
            groups[-1].append(part)
        else:
            between.append(part)
    return groups


def _belongs_after(part: Part, before: Part) -> bool:
    """Return whether what came, or went, right after a pour bears on its mass: drips, a push."""
    change = part.change
    late_s = change.start_s - before.change.end_s
    if change.going:
        return False
    if part.role == "out" and part.u_g > 0.0:  # may have been a push
        return late_s <= PUSH_S
    if part.role != "small":
        return False
    return late_s <= (LAST_S if _is_worth(change) else DRIPS_S)


def _is_worth(change: Change) -> bool:
    """Return whether so little came for certain."""
    u_g = math.hypot(change.u_before_g, change.u_after_g)
    return not change.gap and change.by_g >= max(WORTH_G, WORTH * u_g)


def _leading(between: list[Part], part: Part) -> list[Part]:
    """Return what came right before a pour and is too uncertain to count by itself, as by a hand
    that leans on the bowl."""
    if not between or between[-1].role != "small":
        return []
    before = between[-1].change
    near = part.change.start_s - before.end_s <= LEADS_S
    worth = before.by_g >= max(1.0, 2.0 * math.hypot(before.u_before_g, before.u_after_g))
    return between[-1:] if near and worth else []


def _mass(group: Sequence[Part]) -> tuple[float, float]:
    """Return what lies between the first and the last level of a pour [g] and its u [g]."""
    first, last = group[0].change, group[-1].change
    mass_g = last.after_g - first.before_g
    pushes_g = sum(p.u_g for p in group if p.role == "out")  # all were, or none
    terms = [first.u_before_g, last.u_after_g, pushes_g]
    for part in group:
        terms.append(part.u_g if part.role != "out" else 0.0)
        if not part.counted and part.role != "small":
            change = part.change
            mass_g += meanwhile_g(change) - change.by_g
            terms += [change.u_before_g, change.u_after_g, 0.3 * meanwhile_g(change)]
    return mass_g, math.hypot(*terms)


def _portions(counted: Sequence[Part]) -> list[list[Part]]:
    """Return the parts that count, by portions; what flows in spurts is one portion."""
    flowed_g = sum(p.by_g for p in counted if p.flows)
    flows = flowed_g >= FLOWS_SHARE * sum(p.by_g for p in counted)
    found: list[list[Part]] = []
    for part in counted:
        before = found[-1][-1] if found else None
        joins = before is not None and (flows or (part.flows and before.flows))
        if before is not None and joins and part.change.start_s - before.change.end_s <= PORTION_S:
            found[-1].append(part)
        else:
            found.append([part])
    return found


def _seen(
    span: Sequence[Part], began: PourStart, ended: PourStart | None, spans: list[list[Part]]
) -> tuple[float, float]:
    """Return the mass of a portion that flowed [g] and how long it took [s]; 0 where unseen."""
    if not any(p.flows for p in span) or any(p.change.gap for p in span):
        return 0.0, 0.0
    first, last = span[0].change, span[-1].change
    from_s = began.at_s if span is spans[0] else first.start_s
    to_s = ended.at_s if ended is not None and span is spans[-1] else last.end_s
    return last.after_g - first.before_g, max(to_s - from_s, 0.0)

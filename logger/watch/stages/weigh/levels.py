"""Segments the trace of a scale into levels at rest, with what came between them.

Pure; fed with readings and events in time order, read by
logger.watch.stages.weigh.assignment. Says nothing of ingredients. A tare is found by its flag, by
the instrument's word, or as a fall to nought within one reading; a load that was tared before the
scale came to rest still has its level. What creeps slower than anyone sprinkles is drift.
"""

from dataclasses import dataclass, replace

from logger.model.reading import Flag, Reading
from logger.watch.scale.loads import StabilityDetector

SECOND_NS = 1_000_000_000
NEAR_ZERO_STEPS = 1.5
"""A display within so many steps of nought shows nought [1]."""
_MOVED_STEPS, _MOVED_NOISES = 0.9, 1.8
"""A level further off than this in steps, and in mean changes from reading to reading, is another.
"""
_REST_STEPS, _REST_NOISES = 3.5, 5.0
"""Range of a second at rest, in display steps and in mean changes from reading to reading [1]."""
_APART_STEPS = 2.01
"""The same of two readings that the scale itself calls stable [1]."""
_SLEW_G_S, _SLEW_STEPS_S = 0.02, 0.2
"""Fastest creep that is drift [g/s], and in display steps [1/s]: rough, no source."""
_SETTLES_NS = 2 * SECOND_NS
_SETTLES_STEPS, _SETTLES_SHARE = 4.0, 0.01
"""A level may still settle for so long, by so many steps or such a share of its change."""
_LOOKS_AGAIN_NS, _LOOKS_AGAIN_STEPS = 1_500_000_000, 0.3
"""A level is taken again when it is so old, and corrected if it is off by so many steps."""
_INSTANT_SHARE = 0.9
"""Share of a change that one reading makes if the display jumped [1]."""
_FLAT_STEPS, _FLAT_SHARE = 6.0, 0.02
"""Two readings this close, in steps or as a share, belong to one level not yet at rest."""
_LANDS_SHARE = 0.003
"""A tare before the scale was at rest lands within such a share of the change of nought [1]."""
_KEPT = 600
"""Readings of one change that are looked through."""
_FEWEST_AWAY = 4
"""So many readings away from a level may have been a load that was tared [1]."""
SILENT_NS = 3 * SECOND_NS
"""A scale without a value for longer is silent [ns]."""

_NET = int(Flag.NET)


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level of a scale at rest.

    Attributes
    ----------
    t_ns : int
        When it was found [ns].
    level_g, final_g : float
        When found, and last, drift counted in [g].
    instant : bool or None
        Whether the display jumped here within one reading; None where that is not known.
    tared : bool
        Whether the instrument says that it was tared or that its tare was cleared.
    zeroed_g : float
        Within so much of nought it fell in one reading, as by a tare; 0 where it did not [g].
    in_gap : bool
        Whether there were no readings before it.
    hasty : bool
        Whether it never came to rest: it was tared before.
    marks_ns : tuple of int
        When the operator marked it [ns].
    shift_g : float
        Known change of the display that is no load, as of a tare that is counted in [g].
    """

    t_ns: int
    level_g: float
    final_g: float
    instant: bool | None = None
    tared: bool = False
    zeroed_g: float = 0.0
    in_gap: bool = False
    hasty: bool = False
    marks_ns: tuple[int, ...] = ()
    shift_g: float = 0.0

    def __deepcopy__(self, memo: dict[int, object]) -> "Level":
        """Return itself: it never changes."""
        return self


class Levels:
    """The levels of one scale, in order.

    Parameters
    ----------
    step_g : float or None
        Display step [g]; None learns it from the readings.

    Attributes
    ----------
    found : list of Level
        All so far; the last may still change.
    changed_from : int or None
        Index of the first level that is new or has changed since this was last set to None.
    last : Reading or None
        Last reading with a value.
    silences_ns : list of tuple of int
        From which reading to which there was none in between [ns].
    """

    def __init__(self, step_g: float | None) -> None:
        self.steady = StabilityDetector(step_g, _REST_STEPS, _APART_STEPS)
        self.found: list[Level] = []
        self.changed_from: int | None = None
        self.last: Reading | None = None
        self.silences_ns: list[tuple[int, int]] = []
        self._moving: list[Reading] = []
        """Readings since the last one at the level under way."""
        self._noise_g = 0.0
        self._waiting_marks_ns: list[int] = []
        self._tare_told_ns: int | None = None
        self._net: int | None = None
        self._in_gap = False
        self._slewed_ns = 0
        self._looked_again = False
        self._shift_g = 0.0

    @property
    def step_g(self) -> float:
        """Display step [g]; a tenth of a gram until it is known."""
        return self.steady.step_g or 0.1

    @property
    def zero_g(self) -> float:
        """How far from nought the display may be and still show nought [g]."""
        return max(NEAR_ZERO_STEPS * self.step_g, 3.0 * self._noise_g)

    @property
    def moved_g(self) -> float:
        """Change that makes another level [g]."""
        return max(_MOVED_STEPS * self.step_g, _MOVED_NOISES * self._noise_g)

    @property
    def at_rest(self) -> bool:
        """Whether the last reading is at the last level."""
        if self.last is None or self.last.value is None or not self.found:
            return False
        return abs(self.last.value - self.found[-1].final_g) <= self.steady.rest_g(self.last.value)

    def take(self, reading: Reading) -> None:
        """Take one reading of the scale."""
        value = reading.value
        if value is None:
            self.steady.clear()
            self._moving.append(reading)
            return
        before = self.last
        if before is not None and reading.t_ns - before.t_ns > SILENT_NS:
            self.silences_ns.append((before.t_ns, reading.t_ns))
            self.gap()
        self._note_flags(reading)
        self.last = reading
        level = self.steady.take(reading)
        if self.found and abs(value - self.found[-1].final_g) <= self.steady.rest_g(value):
            self._near(reading, before)
        else:
            self._moving.append(reading)
            del self._moving[:-_KEPT]
        if level is not None and level.value is not None:
            self._at_rest(reading.t_ns, self.steady.mean_g(level.value))

    def mark(self, t_ns: int) -> None:
        """Take a mark of the operator: at the level under way, or at the next.

        Parameters
        ----------
        t_ns : int
            When [ns].
        """
        if self.at_rest:
            last = self.found[-1]
            self._replace_last(replace(last, marks_ns=(*last.marks_ns, t_ns)))
        else:
            self._waiting_marks_ns.append(t_ns)

    def tare(self, t_ns: int) -> None:
        """Take the instrument's word that it was tared.

        Parameters
        ----------
        t_ns : int
            When [ns].
        """
        self._tare_told_ns = t_ns

    def gap(self) -> None:
        """Take a gap: what the scale did meanwhile is not known."""
        self.steady.clear()
        self._moving.clear()
        self._in_gap = True

    def shifted(self, by_g: float) -> None:
        """Take a known change of every later reading that is no load [g]."""
        self.steady.clear()
        self._shift_g += by_g

    # Where one level ends and the next begins.

    def _near(self, reading: Reading, before: Reading | None) -> None:
        """Note a reading at the level under way; what came between may have been tared away."""
        self._moving.append(reading)
        if len(self._moving) > _FEWEST_AWAY and before is not None and before.value is not None:
            if abs(before.value - self.found[-1].final_g) > self.steady.rest_g(before.value):
                return
            self._jumps()
        self._moving = [reading]
        if before is not None and before.value is not None and reading.value is not None:
            jump_g = abs(reading.value - before.value)
            self._noise_g += 0.02 * (min(jump_g, 4.0 * self._noise_g + self.step_g) - self._noise_g)
            self.steady.noise_g = _REST_NOISES * self._noise_g

    def _at_rest(self, t_ns: int, level_g: float) -> None:
        if not self.found:
            self._add(Level(t_ns=t_ns, level_g=level_g, final_g=level_g))
            return
        last = self.found[-1]
        told = self._tare_told_ns is not None
        if abs(level_g - last.final_g) <= self.moved_g and not (told or self._shift_g):
            self._follow(t_ns, level_g)
            return
        self._jumps()
        told, self._tare_told_ns = self._tare_told_ns is not None, None
        last = self.found[-1]
        off_g = level_g - last.final_g
        if abs(off_g) <= self.moved_g and not (told or self._shift_g):
            self._follow(t_ns, level_g)
        elif not told and self._settles(t_ns, off_g):
            self._replace_last(replace(last, level_g=level_g, final_g=level_g))
        else:
            self._add(
                Level(
                    t_ns=t_ns,
                    level_g=level_g,
                    final_g=level_g,
                    instant=self._instant(last.final_g, level_g),
                    tared=told,
                )
            )

    def _settles(self, t_ns: int, off_g: float) -> bool:
        """Return whether the level under way has only now come to rest."""
        last = self.found[-1]
        if t_ns - last.t_ns > _SETTLES_NS or last.hasty or self._in_gap or len(self.found) < 2:
            return False
        change_g = last.level_g - self.found[-2].final_g
        reach_g = max(_SETTLES_STEPS * self.step_g, _SETTLES_SHARE * abs(change_g))
        return abs(off_g) <= reach_g

    def _follow(self, t_ns: int, level_g: float) -> None:
        """Look once more when all has settled; then follow drift, no faster than drift is."""
        last = self.found[-1]
        if not self._looked_again and t_ns - last.t_ns >= _LOOKS_AGAIN_NS and not last.hasty:
            self._looked_again = True
            if abs(level_g - last.level_g) > _LOOKS_AGAIN_STEPS * self.step_g:
                self._replace_last(replace(last, level_g=level_g, final_g=level_g))
                return
        fastest_g_s = max(_SLEW_G_S, _SLEW_STEPS_S * self.step_g)
        reach_g = fastest_g_s * (t_ns - self._slewed_ns) / SECOND_NS
        self._slewed_ns = t_ns
        by_g = max(-reach_g, min(reach_g, level_g - last.final_g))
        if by_g:
            self.found[-1] = replace(last, final_g=last.final_g + by_g)

    def _has_settled(self) -> None:
        """Take the level under way as it was last, if it ends so soon that this was no drift."""
        last = self.found[-1] if self.found and not self._looked_again else None
        if last is None or last.hasty:
            return
        if abs(last.final_g - last.level_g) > _LOOKS_AGAIN_STEPS * self.step_g:
            self._replace_last(replace(last, level_g=last.final_g))

    def _jumps(self) -> None:
        """Add what was tared before the scale came to rest, and the nought after it."""
        moving = [r for r in self._moving if r.value is not None]
        low_g = high_g = moving[0].value or 0.0 if moving else 0.0
        for k in range(1, len(moving)):
            shown_g, now_g = moving[k - 1].value or 0.0, moving[k].value or 0.0
            low_g, high_g = min(low_g, shown_g), max(high_g, shown_g)
            near_g = max(self.zero_g, _LANDS_SHARE * (high_g - low_g))
            if abs(now_g) > near_g or abs(shown_g) <= near_g:
                continue
            told = self._told(moving[k - 1].t_ns, moving[k].t_ns)
            holds = k + 1 < len(moving) and abs(moving[k + 1].value or 0.0) <= near_g
            flat_g = max(_FLAT_STEPS * self.step_g, _FLAT_SHARE * abs(shown_g))
            older_g = moving[k - 2].value or 0.0 if k > 1 else self.found[-1].final_g
            if not told and not (holds and abs(shown_g - older_g) <= flat_g):
                continue
            # A knock that has nearly settled is no load.
            if abs(shown_g - self.found[-1].final_g) > max(self.moved_g, near_g):
                self._add(
                    Level(t_ns=moving[k - 1].t_ns, level_g=shown_g, final_g=shown_g, hasty=True)
                )
            zero = Level(
                t_ns=moving[k].t_ns,
                level_g=now_g,
                final_g=now_g,
                instant=True,
                zeroed_g=near_g,
                tared=told,
            )
            self._add(zero)
            self._moving = moving[k:]
            return

    def _told(self, before_ns: int, after_ns: int) -> bool:
        """Return whether the instrument told of a tare around two readings."""
        told_ns = self._tare_told_ns
        if told_ns is None or not before_ns - SECOND_NS <= told_ns <= after_ns + SECOND_NS:
            return False
        self._tare_told_ns = None
        return True

    def _instant(self, from_g: float, to_g: float) -> bool | None:
        if self._in_gap or any(r.value is None for r in self._moving):
            return None
        values = [from_g, *(r.value for r in self._moving if r.value is not None)]
        most_g = max(
            (b - a) * (1.0 if to_g > from_g else -1.0)
            for a, b in zip(values, values[1:] or values, strict=False)
        )
        return most_g >= _INSTANT_SHARE * abs(to_g - from_g)

    def _add(self, level: Level) -> None:
        self._has_settled()
        marks_ns = tuple(t for t in self._waiting_marks_ns if not level.hasty or t <= level.t_ns)
        self._waiting_marks_ns = [t for t in self._waiting_marks_ns if t not in marks_ns]
        if level.tared:
            self._tare_told_ns = None
        level = replace(level, marks_ns=marks_ns, in_gap=self._in_gap, shift_g=self._shift_g)
        self._in_gap, self._shift_g, self._slewed_ns = False, 0.0, level.t_ns
        self._looked_again = False
        if not level.hasty:
            self._moving = self._moving[-1:]
        self.found.append(level)
        self._note_change(len(self.found) - 1)

    def _replace_last(self, level: Level) -> None:
        self.found[-1] = level
        self._note_change(len(self.found) - 1)

    def _note_change(self, index: int) -> None:
        if self.changed_from is None or index < self.changed_from:
            self.changed_from = index

    def _note_flags(self, reading: Reading) -> None:
        net = reading.flags & _NET
        if self._net is not None and net != self._net:
            self._tare_told_ns = reading.t_ns
        self._net = net

"""Can the core of food have this temperature, after those it had before?

Pure; asked by logger.watch.engine.engine for each reading of a core probe before any watcher sees
it. A value that no core can have reached by conduction is not trusted: interference, a probe that
was pulled out, a tip that touches the pan. It takes a few comparisons a reading and one pass.

Between two readings the core stays within a range: what was trusted last, give or take noise,
widened at the largest rate of a piece of its size. A reading outside is not trusted. Readings are
trusted again when they are back where they were, or when they have been steady for a stretch at a
level that the core may have reached meanwhile: the probe was then perhaps moved. A probe that lay
on the table needs no more than the stretch: it was put into a piece.
"""

from typing import NamedTuple

from logger.batch.amounts import body_of
from logger.batch.facts import Known
from logger.batch.phases import room_c
from logger.model.bench import Bench
from logger.model.kinds.registry import kind_of
from logger.model.sheet import Sheet
from logger.science.heat.corerate import COLDEST_C, HOTTEST_C, ICE_FACTOR, fastest_per_s
from logger.watch.verdict.stretch import FEWEST, stretch_ns_of
from logger.words.values import value_text

NOISE_K, NOISE_SIGMAS = 1.0, 3.0
"""A reading may be this far from the core [K], or this many of its standard deviations."""
BACK_SHARE = 0.04
"""A reading within this share of the range is back where it was."""
HOME_K = 5.0
"""A probe that comes back to within this of where it was before it was moved, is back [K]."""
STEADY_SHARE = 0.25
"""A new level is steady while it changes at no more than this share of the largest rate."""
MOVED_SHARE, MOVED_K = 0.6, 6.0
"""A new level farther off than this share of the range, and than this [K], is none that food drifts
to while the probe is out."""
NEAR_ROOM_K = 3.0
"""A probe that is this near to the temperature of the room may lie on the table [K], beyond the
uncertainty of that temperature."""
STATED_K = 20.0
"""A pan or oil is hotter in places than the sheet states, by this at most [K]; common practice, no
source."""
LEAST_K = 20.0
"""Surroundings are at least so much colder or hotter than what they chill or heat [K]."""
FROZEN_C = 1.0
"""What surely is below this may be frozen, and then conducts better [degC]; common practice, no
source."""


class Moved(NamedTuple):
    """A core probe that went to another level faster than food does, and stayed there."""

    from_c: float
    to_c: float
    from_ns: int
    """Last time at the first level [ns]."""


class Range:
    """Where the core may be [degC]: at least `low_c`, at most `high_c`.

    What surrounds it is at most `hottest_c`.
    """

    __slots__ = ("high_c", "hottest_c", "low_c")

    def __init__(self, low_c: float, high_c: float, hottest_c: float = HOTTEST_C) -> None:
        self.low_c, self.high_c, self.hottest_c = low_c, high_c, hottest_c

    def widen(self, share: float) -> None:
        """Let time pass: the core may be nearer to its surroundings by a share [1]."""
        self.low_c -= max(self.low_c - COLDEST_C, LEAST_K) * share
        self.high_c += max(self.hottest_c - self.high_c, LEAST_K) * share

    def holds(self, value: float, reach_k: float) -> bool:
        """Return whether a reading [degC] may be of such a core, give or take a reach [K]."""
        return self.low_c - reach_k <= value <= self.high_c + reach_k

    def narrow(self, value: float, reach_k: float) -> None:
        """Take a reading [degC] that is of this core, give or take a reach [K]."""
        low_c, high_c = value - reach_k, value + reach_k
        if low_c > self.low_c:
            self.low_c = low_c
        if high_c < self.high_c:
            self.high_c = high_c


class Plausible:
    """Follows one core probe through a run.

    Parameters
    ----------
    per_s : float
        Largest rate of the core as a share of its distance from its surroundings [1/s].
    reach_k : float
        How far a reading may be from the core [K].
    stretch_ns : int
        How long readings must be steady to be trusted again [ns].
    hottest_c : float
        Temperature of the hottest surroundings of the food [degC].
    """

    __slots__ = (
        "_back", "_count", "_established", "_home_c", "_hottest_c", "_last_ns", "_mark_c",
        "_mark_ns", "_new", "_per_ns", "_range", "_reach_k", "_since_ns", "_stretch_ns", "_was_c",
        "_was_ns", "level_c", "moved", "out",
    )  # fmt: skip

    def __init__(
        self, per_s: float, reach_k: float, stretch_ns: int, hottest_c: float = HOTTEST_C
    ) -> None:
        self._hottest_c = hottest_c
        self._per_ns, self._reach_k, self._stretch_ns = per_s * 1e-9, reach_k, stretch_ns
        self._range: Range | None = None
        self._back = self._new = Range(0.0, 0.0)
        """While the probe is out: where it is back at once, and its new level."""
        self.out = self._established = False
        """Whether readings are not trusted now, and whether a level lasted before."""
        self._home_c: float | None = None
        """Level before the probe was moved last."""
        self._last_ns = self._since_ns = 0
        self._count = 0
        self._was_c, self._was_ns = 0.0, 0
        """What was trusted last [degC], and when."""
        self._mark_c, self._mark_ns = 0.0, 0
        self.level_c = 0.0
        """What was trusted one or two stretches before that [degC]: a probe has a lag, so that
        food may have the first readings on its way to another level."""
        self.moved: Moved | None = None
        """What the last trusted reading showed, where the probe was moved."""

    def trusts(self, t_ns: int, value: float, *, on_table: bool = False) -> bool:
        """Take a reading; returns whether it may be of the core.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        value : float
            What was read [degC].
        on_table : bool
            Whether `level_c` may be that of a probe on the table.
        """
        now, reach_k = self._range, self._reach_k
        if now is None:
            self._range = Range(value - reach_k, value + reach_k, self._hottest_c)
            self._begin(t_ns, value)
            return True
        share = (t_ns - self._last_ns) * self._per_ns
        low_c, high_c = now.low_c, now.high_c
        if high_c < FROZEN_C:
            share *= ICE_FACTOR
        if share > 1.0:
            share = 1.0
        self._last_ns = t_ns
        now.widen(share)
        if self.out:
            return self._again(t_ns, value, now, share, on_table)
        if not now.holds(value, reach_k):
            self.out = True
            self._back = Range(low_c, high_c, self._hottest_c)
            self._back.widen(BACK_SHARE * share)
            self._start_new(t_ns, value)
            return False
        now.narrow(value, reach_k)
        self._sure(t_ns, value)
        if not self._established:
            self._count += 1
            self._established = self._count >= FEWEST and t_ns - self._since_ns >= self._stretch_ns
        return True

    def _again(self, t_ns: int, value: float, now: Range, share: float, on_table: bool) -> bool:
        """Return whether a probe that was out can be trusted again."""
        reach_k, back, new = self._reach_k, self._back, self._new
        back.widen(BACK_SHARE * share)
        if back.holds(value, 0.5 * reach_k):
            back.narrow(value, reach_k)
            self._range, self.out = back, False
            self._sure(t_ns, value)
            return True
        new.widen(STEADY_SHARE * share)
        if not new.holds(value, reach_k):
            self._start_new(t_ns, value)
            return False
        new.narrow(value, reach_k)
        self._count += 1
        if self._count < FEWEST or t_ns - self._since_ns < self._stretch_ns:
            return False
        if self._established and not on_table and not now.holds(value, reach_k):
            return False
        known = self._established or self._home_c is not None
        if on_table or (known and self._beyond(value, now)):
            self._home_c = self.level_c if on_table else self._was_c
            self.moved = Moved(self._home_c, value, self._was_ns)
        self._range, self.out = new, False
        self._begin(t_ns, value)
        return True

    def _beyond(self, value: float, now: Range) -> bool:
        """Return whether a new level is farther off than food drifts."""
        edge_c = now.low_c if value < self._was_c else now.high_c
        off_k = abs(value - self._was_c)
        home = self._home_c is not None and abs(value - self._home_c) <= HOME_K
        return off_k > MOVED_K and (home or off_k > MOVED_SHARE * abs(edge_c - self._was_c))

    def _start_new(self, t_ns: int, value: float) -> None:
        self._new = Range(value - self._reach_k, value + self._reach_k, self._hottest_c)
        self._since_ns, self._count = t_ns, 1

    def _begin(self, t_ns: int, value: float) -> None:
        """Trust readings from now on; a level is established once it has lasted a stretch."""
        self._last_ns = self._since_ns = self._was_ns = self._mark_ns = t_ns
        self._count, self._established = 1, False
        self._was_c = self._mark_c = self.level_c = value

    def _sure(self, t_ns: int, value: float) -> None:
        """Note a trusted reading."""
        self._was_c, self._was_ns = value, t_ns
        if t_ns - self._mark_ns >= self._stretch_ns:
            self.level_c, self._mark_c, self._mark_ns = self._mark_c, value, t_ns


def core_probes(sheet: Sheet, bench: Bench) -> dict[str, Plausible]:
    """Return what follows each core probe of a bench, by channel id."""
    per_s, hottest_c = fastest_per_s(body_of(sheet)), hottest_of(sheet)
    found = {}
    for channel in bench.channel:
        if channel.role == "core":
            noise_k = NOISE_SIGMAS * (channel.repeatability or 0.0) + (channel.resolution or 0.0)
            reach_k = max(NOISE_K, noise_k)
            found[channel.id] = Plausible(per_s, reach_k, stretch_ns_of(channel), hottest_c)
    return found


def hottest_of(sheet: Sheet) -> float:
    """Return how hot what surrounds the core may be [degC].

    Notes
    -----
    What the sheet states of pan or oil bounds it where every stage that cooks states one: a core
    that rises faster than they could heat it is that of a probe on its way out. Keeping food warm
    is taken to be no hotter than cooking it.
    """
    stated_c: list[float] = []
    for stage in sheet.stage:
        kind = kind_of(stage)
        highs = [b.high for b in (stage.pan_temp_c, stage.oil_temp_c) if b is not None]
        stated_c += [high for high in highs if high is not None]
        if kind.tracks_core and kind.rule_sets is None and (not highs or None in highs):
            return HOTTEST_C
    return min(HOTTEST_C, max(stated_c, default=HOTTEST_C) + STATED_K)


def may_be_on_table(context: Known, temp_c: float) -> bool:
    """Return whether a core probe at a temperature [degC] may lie on the table."""
    air_c, u_air_k, _ = room_c(context)
    return abs(temp_c - air_c) <= NEAR_ROOM_K + 2.0 * u_air_k


def moved_text(from_c: float, to_c: float) -> str:
    """Say that a core probe was moved.

    Parameters
    ----------
    from_c, to_c : float
        Levels before and after [degC].
    """
    was, now = value_text(from_c, "degC"), value_text(to_c, "degC")
    return f"the core probe went from {was} to {now} faster than food can change: was it moved?"

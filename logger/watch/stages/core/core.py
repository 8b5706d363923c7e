"""What the watchers of a core probe share: its readings, its extremes, and the time not measured.

Pure; base of the watchers of chilling, cooking and holding. Time without readings is counted, so
that no verdict is better than what was seen.
"""

import math

from logger.model.event import Event
from logger.model.finding import Finding
from logger.model.reading import Reading
from logger.model.state import Number
from logger.model.written import Band
from logger.watch.engine.contract import Context, judged_rule
from logger.watch.engine.plain import Plain
from logger.watch.verdict import checks
from logger.watch.verdict.extremes import Extremes
from logger.watch.verdict.measured import Measured

SILENT_S = 10.0
"""Silence at either end of a stage that counts as not measured [s]."""
FRESH_S = 10.0
"""Age up to which the last reading is the core as it is now [s]."""
MAY_MISS_S = 60.0
"""Time not measured from which on an extreme is no longer known [s]."""

CAUTIONS = (
    "Records temperatures; does not certify food.",
    "Counts only where the probe is: the slowest spot may differ.",
    "Follow local regulation; discard when in doubt.",
)


class CoreWatch(Plain):
    """Follows the core probe through one stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.channel = context.channel_id("core")
        self.rule = judged_rule(context.sheet)
        self.first_ns: int | None = None
        self.last: Reading | None = None
        self.extremes = Extremes()
        self.gaps_s = 0.0
        self.unbroken = False
        """Whether the next reading joins on to the last one."""

    def reading(self, reading: Reading) -> None:
        """Take one reading; only those of the core with a value count."""
        if reading.channel != self.channel or reading.value is None:
            return
        last, self.last = self.last, reading
        if last is None:
            self.first_ns = reading.t_ns
        self.extremes.take(reading)
        self.core(reading, last if self.unbroken else None)
        self.unbroken = True

    def core(self, reading: Reading, before: Reading | None) -> None:
        """Take a value of the core; `before` is the one it joins on to, None after a gap."""

    def event(self, event: Event) -> None:
        """Take a gap of the core probe."""
        if event.kind == "gap" and event.channel == self.channel:
            self.unbroken = False
            from_s = max(float(event.data["from_s"]), self.context.start_ns / 1e9)
            self.gaps_s += max(0.0, float(event.data["to_s"]) - from_s)

    def unmeasured_s(self, t_ns: int) -> float:
        """Return how much of the stage had no reading of the core [s]."""
        if self.first_ns is None or self.last is None:
            return self.elapsed_s(t_ns)
        head_s = (self.first_ns - self.context.start_ns) / 1e9 if self.gaps_s == 0.0 else 0.0
        tail_s = (t_ns - self.last.t_ns) / 1e9
        return self.gaps_s + sum(s for s in (head_s, tail_s) if s > SILENT_S)

    def why_missing(self) -> str:
        """Return why there is no value to judge."""
        if self.channel is None:
            return "the bench has no core probe"
        return "no reading of the core probe"

    def nothing(self, t_ns: int) -> Measured:
        """Return no value for the stage up to `t_ns`."""
        return Measured(from_ns=self.context.start_ns, to_ns=t_ns, channel=self.channel)

    def age_s(self, t_ns: int) -> float:
        """Return the age of the last reading [s]; infinite before the first."""
        return (t_ns - self.last.t_ns) / 1e9 if self.last is not None else math.inf

    def core_number(self, band: Band | None) -> Number:
        """Return the core as it is now, with its target, for a view."""
        last = self.last if self.age_s(self.now_ns) <= FRESH_S else None
        value, u = (last.value, last.u) if last is not None else (None, 0.0)
        return checks.number(self.context, "Core", value, "degC", u, band)

    def judged(self, key: str, extreme: Measured | None, band: Band, t_ns: int) -> Finding:
        """Judge an extreme of the core; None where there is no reading.

        Parameters
        ----------
        key : str
            Of the check.
        extreme : Measured or None
            The extreme [degC].
        band : Band
            Its target [degC].
        t_ns : int
            End of the stage on the run's axis [ns].
        """
        measured = extreme or self.nothing(t_ns)
        why = self.why_missing()
        return checks.finding(self.context, key, measured, band, why_missing=why)

    def judged_time(self, key: str, band: Band, t_ns: int) -> Finding:
        """Judge how long the stage took.

        Parameters
        ----------
        key : str
            Key of the finding.
        band : Band
            Target of the length, in seconds.
        t_ns : int
            Time on the run's axis [ns].
        """
        lasted = Measured(
            value=self.elapsed_s(t_ns), u=0.0, from_ns=self.context.start_ns, to_ns=t_ns
        )
        return checks.finding(self.context, key, lasted, band)


def low_side(reading: Reading) -> float:
    """Return a temperature less its expanded uncertainty [degC]; NaN if that is unknown."""
    return (reading.value if reading.value is not None else math.nan) - 2.0 * reading.u

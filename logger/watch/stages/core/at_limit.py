"""How long a core was at or above its lower limit on end: for sure, and perhaps.

Pure; fed and judged by logger.watch.stages.core.core. Readings in doubt never count for sure, and
nothing counts across a gap.
"""

from logger.model.finding import Verdict
from logger.model.reading import Reading
from logger.science.metrology.conformance import decide
from logger.watch.verdict.stretch import Held


class AtLimit:
    """The longest times at a lower limit.

    Parameters
    ----------
    low_c : float or None
        Limit [degC]; None if the sheet sets none: then nothing counts.
    rule : str
        Decision rule of the sheet.
    stretch_ns : int
        Length of a stretch of readings [ns].
    """

    def __init__(self, low_c: float | None, rule: str, *, stretch_ns: int) -> None:
        self.low_c = low_c
        self._rule = rule
        self._held = Held(stretch_ns)
        self.sure_s = self.longest_sure_s = 0.0
        self._maybe_s = self.longest_maybe_s = 0.0

    def take(self, reading: Reading, before: Reading | None, *, in_doubt: bool) -> None:
        """Take a value of the core.

        Parameters
        ----------
        reading : Reading
            Of the core [degC].
        before : Reading or None
            The one it joins on to; None after a gap.
        in_doubt : bool
            Whether the probe may have been moved to something hotter than the food.
        """
        if self.low_c is None:
            return
        step_s = (reading.t_ns - before.t_ns) / 1e9 if before is not None else 0.0
        now = self._at(reading)
        then: Verdict = self._at(before) if before is not None else "not measured"
        sure = now == "met" and not in_doubt
        self.sure_s = self.sure_s + step_s if sure and then == "met" else 0.0
        if before is None:
            self._held.broken()
        if self._held.take(reading.t_ns, sure):
            self.longest_sure_s = max(self.longest_sure_s, self.sure_s)
        perhaps = "not met" not in (now, then) and before is not None
        self._maybe_s = self._maybe_s + step_s if perhaps else 0.0
        self.longest_maybe_s = max(self.longest_maybe_s, self._maybe_s)

    def _at(self, reading: Reading) -> Verdict:
        return decide(reading.value, reading.u, low=self.low_c, rule=self._rule)

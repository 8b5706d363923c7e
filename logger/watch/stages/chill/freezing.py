"""A core that stands still just below 0 degC while it freezes, then falls on.

Pure; used by logger.watch.stages.chill.watcher, once a second. A plateau alone may be the
temperature of the cabinet; only the further fall tells that it was freezing.
"""

from collections import deque

from logger.words.durations import duration_text
from logger.words.values import value_text

PLATEAU_S = 300
"""A plateau holds at least this long [s]."""
PLATEAU_K = 0.4
"""Range of the core on a plateau [K]."""
LOW_C, HIGH_C = -6.0, 0.5
"""Where foods begin to freeze [degC]; common practice, no source."""
FALLS_ON_K = 1.0
"""Further fall that tells a freezing plateau from the temperature of the cabinet [K]."""


class Freezing:
    """Looks for one freezing plateau."""

    def __init__(self) -> None:
        self._seen: deque[tuple[int, float]] = deque(maxlen=PLATEAU_S + 1)
        self.from_ns = self.to_ns = 0
        self.level_c: float | None = None
        """Level of the plateau [degC]; None before one was seen."""
        self.confirmed = False

    def gap(self) -> None:
        """Forget what came before a gap: no plateau begins across it."""
        self._seen.clear()

    def take(self, t_ns: int, temp_c: float) -> bool:
        """Take the core temperature of a second [degC].

        Returns True when a plateau has just been confirmed.
        """
        if self.confirmed:
            return False
        if self.level_c is not None:
            return self._follow(t_ns, temp_c, self.level_c)
        self._seen.append((t_ns, temp_c))
        if len(self._seen) <= PLATEAU_S:
            return False
        temps = [v for _, v in self._seen]
        level_c = sorted(temps)[len(temps) // 2]
        if max(temps) - min(temps) <= PLATEAU_K and LOW_C <= level_c <= HIGH_C:
            self.from_ns, self.to_ns, self.level_c = self._seen[0][0], t_ns, level_c
        return False

    def says(self) -> str:
        """Return what is seen, in a sentence; empty before a plateau."""
        if self.level_c is None:
            return ""
        level = value_text(self.level_c, "degC")
        held = duration_text((self.to_ns - self.from_ns) / 1e9)
        if self.confirmed:
            return f"The core froze: it stayed at {level} for {held}, then fell on"
        stands = f"The core stays at {level} for {held}"
        return f"{stands}: it freezes, or the cabinet is no colder"

    def _follow(self, t_ns: int, temp_c: float, level_c: float) -> bool:
        if abs(temp_c - level_c) <= PLATEAU_K:
            self.to_ns = t_ns
        elif level_c - temp_c >= FALLS_ON_K:
            self.confirmed = True
        elif temp_c - level_c >= FALLS_ON_K:
            self.level_c = None
            self._seen.clear()
        return self.confirmed

"""The machine's clocks watched beside the run's axis: anchors, clock steps, sleep.

Used by the owner of the run. What it notices becomes an event; the run's axis is never moved.
"""

import time

from logger.ports.clock import Clock
from logger.recorder.live.clocks import read_clocks
from logger.recorder.live.current import Current
from logger.words.durations import duration_text

ANCHOR_S = 10.0
CLOCK_STEP_NS = 50_000_000


class ClockWatch:
    """Looks at most every `ANCHOR_S`.

    Parameters
    ----------
    clock : Clock
        The recorder's clock.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._anchored_at = 0.0
        self._utc_minus_mono: int | None = None
        self._boot_minus_mono: int | None = None

    def restart(self) -> None:
        """Look again at the next turn: a run began or ended."""
        self._anchored_at = 0.0

    def look(self, current: Current, now_ns: int) -> None:
        """Write an anchor every 10 s; a clock step or a suspended machine is an event."""
        wall = time.monotonic()
        if self._anchored_at and wall - self._anchored_at < ANCHOR_S:
            return
        self._anchored_at = wall
        reading = read_clocks(self._clock, now_ns)
        step = reading.utc_ns - reading.mono_ns
        asleep = reading.boottime_ns - reading.mono_ns
        if self._utc_minus_mono is not None:
            moved, slept = step - self._utc_minus_mono, 0
            if self._boot_minus_mono is not None and reading.boottime_ns:
                slept = asleep - self._boot_minus_mono
            if abs(slept) > CLOCK_STEP_NS:
                current.say(
                    now_ns,
                    "suspended",
                    f"the computer slept for {duration_text(slept / 1e9)}",
                    slept,
                )
            if abs(moved - slept) > CLOCK_STEP_NS:
                current.say(
                    now_ns,
                    "clock_step",
                    f"the computer's clock was moved by {(moved - slept) / 1e9:+.2f} s; "
                    "the run's time axis is not affected",
                    moved - slept,
                )
        self._utc_minus_mono, self._boot_minus_mono = step, asleep
        if current.recording:
            current.pending.anchors.append(reading)

"""When a temperature that rises reaches a limit, if it goes on as in the last half minute.

Pure; used by probes of stages that warm. A straight line through the last readings: a bath that
comes near its set point slows down, so the time is told as one at this rate.
"""

from collections import deque

from logger.model.reading import Reading

SPAN_NS, LEAST_NS, EACH_NS = 30_000_000_000, 15_000_000_000, 1_000_000_000
"""Stretch of time the line goes through, the least for one, and from point to point."""
SLOWEST_K_S = 0.5 / 60.0
"""A slower rise, half a kelvin a minute, tells no time (common practice, no source)."""
LONGEST_S = 3600.0
"""A longer time is not told: nothing goes on so long at one rate."""


class Rise:
    """Follows one temperature."""

    def __init__(self) -> None:
        self._points: deque[tuple[int, float]] = deque()

    def take(self, reading: Reading) -> None:
        """Take a reading with a value, in time order."""
        points = self._points
        if reading.value is None or (points and reading.t_ns - points[-1][0] < EACH_NS):
            return
        points.append((reading.t_ns, reading.value))
        while reading.t_ns - points[0][0] > SPAN_NS:
            points.popleft()

    def reaches_in_s(self, limit_c: float, value_c: float) -> float | None:
        """Return how long until the limit is reached [s]; None where that can't be told.

        Parameters
        ----------
        limit_c : float
            The limit [degC], above the value.
        value_c : float
            Temperature now [degC].
        """
        points = self._points
        if len(points) < 2 or points[-1][0] - points[0][0] < LEAST_NS:
            return None
        begin_ns, count = points[0][0], len(points)
        times_s = [(t_ns - begin_ns) / 1e9 for t_ns, _ in points]
        mean_s = sum(times_s) / count
        spread = sum((t_s - mean_s) ** 2 for t_s in times_s)
        slope = (
            sum((t_s - mean_s) * v for t_s, (_, v) in zip(times_s, points, strict=True)) / spread
        )
        if slope < SLOWEST_K_S:
            return None
        left_s = (limit_c - value_c) / slope
        return left_s if 0.0 < left_s <= LONGEST_S else None

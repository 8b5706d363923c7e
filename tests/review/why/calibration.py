"""Whether a score is a chance: in each tenth of it, how many were true. Used by ``why``."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.science.statistics.exact import share_interval

WITHIN = 0.1


@dataclass(frozen=True, kw_only=True)
class Tenth:
    """One tenth of the score: how many, their mean score, the share that was true, its interval."""

    count: int
    score: float
    share: float
    low: float
    high: float

    @property
    def says(self) -> str:
        """Whether the share is within 0.1 of the score, or too few to tell."""
        if abs(self.share - self.score) <= WITHIN:
            return "within 0.1"
        inside = self.low - WITHIN <= self.score <= self.high + WITHIN
        return "too few to tell" if inside else "OFF"


def tenths(scored: Sequence[tuple[float, bool]]) -> list[Tenth]:
    """Return each tenth of the score that holds any, lowest first."""
    found = []
    for k in range(10):
        here = [(s, true) for s, true in scored if min(int(10.0 * s), 9) == k]
        if here:
            hits = sum(true for _, true in here)
            low, high = share_interval(hits, len(here))
            mean = sum(s for s, _ in here) / len(here)
            share = hits / len(here)
            found.append(Tenth(count=len(here), score=mean, share=share, low=low, high=high))
    return found


def print_calibration(scored: Sequence[tuple[float, bool]]) -> None:
    """Print the table."""
    print("\nscore: causes listed, mean score, share that was put in (95 %, Clopper-Pearson)")
    for one in tenths(scored):
        print(
            f"{one.count:6d}  {one.score:.2f}  {one.share:.2f} ({one.low:.2f} to {one.high:.2f})  "
            f"{one.says}"
        )

"""A time left until something sets, in words.

Pure text; used by logger.watch.stages.cooling.forecast.
"""

import math

from logger.science.heat.timeleft import TimeLeft


def left_text(what: str, left: TimeLeft, at: str) -> str:
    """Say a time left in a sentence; `at` is the limit as it is written."""
    if left.likely_s <= 0.0:
        return f"{what} is at its setting limit of {at}."
    if math.isinf(left.early_s):
        return f"{what} is not likely to cool to its setting limit of {at}."
    return f"{what} may set {span(left)} (below {at})."


def span(left: TimeLeft) -> str:
    """Write a time left that has an early end as a range: ``"in 6 to 9 min"``."""
    early = math.floor(left.early_s / 60.0)
    if math.isinf(left.late_s):
        return f"in {early} min at the earliest, and may not reach it"
    late = max(math.ceil(left.late_s / 60.0), early + 1)
    return f"in {early} to {late} min"

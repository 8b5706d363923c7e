"""What a check is judged by: a value, its standard uncertainty, and where on the trace it lies.

Plain data; made by the watchers, judged by ``logger.watch.verdict.checks``.
"""

import math
from dataclasses import dataclass
from typing import Self

from logger.model.reading import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One value with its evidence; there may be none.

    Attributes
    ----------
    value : float or None
        [unit of its check]; None or NaN where there is no data.
    u : float
        Standard uncertainty [same unit]; NaN when unknown.
    from_ns, to_ns : int or None
        Window of the evidence on the run's axis [ns].
    channel : str or None
        Where it was measured.
    """

    value: float | None = None
    u: float = math.nan
    from_ns: int | None = None
    to_ns: int | None = None
    channel: str | None = None

    @classmethod
    def of(cls, reading: Reading) -> Self:
        """Return one reading as the evidence."""
        return cls(
            value=reading.value,
            u=reading.u,
            from_ns=reading.t_ns,
            to_ns=reading.t_ns,
            channel=reading.channel,
        )

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return self.value is not None and not math.isnan(self.value)

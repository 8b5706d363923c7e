"""One row of the table of clumsy hands: what was wanted, what was measured."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure.

    Attributes
    ----------
    what : str
        In words.
    wanted : str
        The limit, as it is printed.
    measured : str
        The value, with of how many.
    holds : bool
        Whether the limit is kept.
    """

    what: str
    wanted: str
    measured: str
    holds: bool

    def line(self) -> str:
        """Return the row as it is printed."""
        mark = "" if self.holds else "  MISSED"
        return f"{self.what:58}{self.wanted:>10}  {self.measured}{mark}"

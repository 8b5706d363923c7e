"""Which pieces show a defect, and what sets them apart from the others of the batch.

Pure; pieces of a run with what was said of each in, counts with exact intervals and exact tests
out. Used by logger.review.why.evidence and explain.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from logger.model.finding import Finding
from logger.model.rows import PieceRow
from logger.review.features.portrait import Portrait
from logger.review.why.unlike import FEWEST, few_unlike_p, holm
from logger.science.statistics.exact import rank_sum_p, share_interval, shares_differ_p
from logger.words.bands import band_text, span_text
from logger.words.counts import count_text
from logger.words.values import percent_text, value_text

LEVEL = 0.05
"""Chance of naming a difference of the pieces that is none."""


ALL = "all"
"""In place of a quantity: all that was measured of each piece, taken together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One number of each piece.

    Attributes
    ----------
    of : callable
        Takes it [unit]; None where the piece has none.
    least : float or None
        Standard deviation that is ordinary among pieces [unit]; None of a place in an order.
    """

    name: str
    label: str
    unit: str
    of: Callable[[PieceRow], float | None]
    least: float | None


def _set_percent(piece: PieceRow) -> float | None:
    return None if piece.set_fraction is None else 100.0 * piece.set_fraction


ORDER = Quantity(
    name="order",
    label="number of the piece",
    unit="",
    of=lambda p: float(p.piece),
    least=None,
)
QUANTITIES: dict[str, Quantity] = {
    one.name: one
    for one in (
        Quantity(
            name="bare_mass_g", label="bare mass", unit="g", of=lambda p: p.bare_mass_g, least=0.6
        ),
        Quantity(
            name="coat_mass_g", label="coat mass", unit="g", of=lambda p: p.coat_mass_g, least=0.2
        ),
        Quantity(
            name="coat_mm", label="coat thickness", unit="mm", of=lambda p: p.coat_mm, least=0.03
        ),
        Quantity(name="dwell_s", label="dwell", unit="s", of=lambda p: p.dwell_s, least=8.0),
        Quantity(name="set_percent", label="skin set", unit="%", of=_set_percent, least=1.5),
        ORDER,
    )
}
"""By name, as the knowledge names them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """What sets the pieces with a defect apart.

    Attributes
    ----------
    quantity : str
        A key of `QUANTITIES`, or the key of the check whose limit was broken.
    side : str
        ``low``: lower than in the others; ``high``: higher; ``limit``: beyond the limit.
    p : float
        Exact two-sided chance if it had nothing to do with it, raised for all that was looked at.
    says : str
        In words.
    """

    quantity: str
    side: Literal["low", "high", "limit"]
    p: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecesTold:
    """One defect, by piece.

    Attributes
    ----------
    pieces : tuple of int
        Those that show it.
    of : int
        Pieces in all.
    low, high : float
        Interval of the share with 95 % [1].
    differences : tuple of Difference
        Surest first; those that may be chance are not listed, but for numbers that lie wholly
        beyond those of all others.
    alike : bool
        Whether not most of the pieces show it, and these are like the others in all that was
        measured of each piece, their order apart.
    """

    defect: str
    pieces: tuple[int, ...]
    of: int
    low: float
    high: float
    differences: tuple[Difference, ...]
    alike: bool = False

    @property
    def share(self) -> str:
        """How many pieces show it, which, and the interval of their share, in words."""
        share = band_text(round(100.0 * self.low), round(100.0 * self.high), "%")
        listed = ", ".join(str(p) for p in self.pieces)
        count = f"{len(self.pieces)} of {count_text(self.of, 'piece')}"
        return f"{count} “{self.defect}” ({share}; {listed})"

    @property
    def says(self) -> str:
        """The share, and what sets the pieces apart, in words."""
        sure = [d.says for d in self.differences if d.p < LEVEL]
        if unsure := [d.says for d in self.differences if d.p >= LEVEL]:
            sure.append(f"too few pieces to tell whether by chance: {', '.join(unsure)}")
        return f"{self.share}: {'; '.join(sure) or 'nothing that was measured sets them apart'}"


def pieces_told(run: Portrait) -> tuple[PiecesTold, ...]:
    """Return each defect that was said of single pieces, in the order of the sheet's list."""
    said = run.piece_defects
    named = {defect for defects in said.values() for defect in defects}
    order = [d for d in run.sheet.sheet.defects if d in named]
    order += sorted(named - set(order))
    rows = {row.piece: row for row in run.pieces}
    rows |= {piece: PieceRow(piece=piece) for piece in said if piece not in rows}
    return tuple(_told(defect, rows, run) for defect in order)


def _told(defect: str, rows: dict[int, PieceRow], run: Portrait) -> PiecesTold:
    hit = sorted(p for p in rows if defect in run.piece_defects.get(p, ()))
    low, high = share_interval(len(hit), len(rows))
    compared = _compared(set(hit), list(rows.values()))
    differences = tuple(_differences(compared, _by_limit(set(hit), run.findings)))
    measured = any(quantity is not ORDER for quantity, _, _ in compared)
    apart = any(d.p < LEVEL and d.quantity != ORDER.name for d in differences)
    return PiecesTold(
        defect=defect,
        pieces=tuple(hit),
        of=len(rows),
        low=low,
        high=high,
        differences=differences,
        alike=2 * len(hit) <= len(rows) and measured and not apart,
    )


_Looked = tuple[str, Literal["low", "high", "limit"], float, str, bool]
"""Name, side, chance alone, in words, and whether the pieces lie wholly apart."""


_Compared = tuple[Quantity, list[float], list[float]]
"""A number that pieces with the defect have and others have, and both."""


def _compared(hit: set[int], rows: Sequence[PieceRow]) -> list[_Compared]:
    """Return the numbers by which pieces can be told apart."""
    found = []
    for quantity in QUANTITIES.values():
        known = [(row.piece in hit, v) for row in rows if (v := quantity.of(row)) is not None]
        ours, others = ([v for is_hit, v in known if is_hit is side] for side in (True, False))
        if ours and others:
            found.append((quantity, ours, others))
    return found


def _differences(compared: Sequence[_Compared], of_limits: Sequence[_Looked]) -> list[Difference]:
    """Return what sets pieces apart, surest first."""
    count = len(compared) + len(of_limits)
    looked = [_by_number(one, count) for one in compared]
    looked += of_limits
    raised = holm([p for _, _, p, _, _ in looked])
    found = []
    for (quantity, side, _, says, apart), p in zip(looked, raised, strict=True):
        if p < LEVEL:
            says += f" (chance {percent_text(p)} if it had nothing to do with it)"
        elif not apart:
            continue
        found.append(Difference(quantity=quantity, side=side, p=p, says=says))
    return sorted(found, key=lambda d: d.p)


def _by_number(compared: _Compared, looked: int) -> _Looked:
    """Compare a number of the pieces with a defect with that of the others.

    Notes
    -----
    By ranks, exactly; by the scatter of the others where even pieces wholly apart would be too few
    for ranks to tell, with as many numbers as are looked at.
    """
    quantity, ours, others = compared
    higher = sum((a > b) - (a < b) for a in ours for b in others) > 0
    unit = quantity.unit
    says = f"{quantity.label} {_span(ours, unit)} compared with {_span(others, unit)} in the others"
    apart = quantity is not ORDER and (min(ours) > max(others) or max(ours) < min(others))
    p = rank_sum_p(ours, others)
    surest = 2.0 / math.comb(len(ours) + len(others), len(ours))
    if quantity.least is not None and looked * surest >= LEVEL and len(others) >= FEWEST:
        p = few_unlike_p(ours, others, least=quantity.least)
    return quantity.name, "high" if higher else "low", p, says, apart


def _by_limit(hit: set[int], findings: Sequence[Finding]) -> list[_Looked]:
    """Compare how many broke each limit among the pieces with a defect and among the others."""
    judged: dict[str, dict[int, Finding]] = {}
    for finding in findings:
        if finding.piece is not None and finding.verdict in ("met", "not met"):
            judged.setdefault(finding.key, {})[finding.piece] = finding
    found: list[_Looked] = []
    for key, of_pieces in judged.items():
        broke = {p for p, f in of_pieces.items() if f.verdict == "not met"}
        ours, others = of_pieces.keys() & hit, of_pieces.keys() - hit
        if not broke or not ours or not others:
            continue
        p = shares_differ_p(len(broke & ours), len(ours), len(broke & others), len(others))
        says = (
            f"{next(iter(of_pieces.values())).check} beyond its limit in {len(broke & ours)} of "
            f"{len(ours)}, in {len(broke & others)} of the other {len(others)}"
        )
        found.append((key, "limit", p, says, False))
    return found


def _span(values: Sequence[float], unit: str) -> str:
    low, high = min(values), max(values)
    if unit == "s":
        low, high = round(low), round(high)
    alike = value_text(low, unit) == value_text(high, unit)
    return value_text(high, unit) if alike else span_text(low, high, unit)

"""Which pieces show a defect, and what sets them apart from the others of the batch.

Pure; pieces of a run with what was said of each in, counts with exact intervals and exact tests
out. Used by logger.review.why.evidence and explain.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from logger.model.finding import Finding
from logger.model.rows import PieceRow
from logger.review.features.portrait import Portrait
from logger.review.why.unlike import holm
from logger.science.statistics.exact import rank_sum_p, share_interval, shares_differ_p
from logger.words.bands import band_text, span_text
from logger.words.counts import count_text
from logger.words.values import percent_text, value_text

LEVEL = 0.05
"""Chance of naming a difference of the pieces that is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One number of each piece; `of` takes it [unit], None where the piece has none."""

    name: str
    label: str
    unit: str
    of: Callable[[PieceRow], float | None]


QUANTITIES: dict[str, Quantity] = {
    one.name: one
    for one in (
        Quantity(name="bare_mass_g", label="bare mass", unit="g", of=lambda p: p.bare_mass_g),
        Quantity(name="coat_mass_g", label="coat mass", unit="g", of=lambda p: p.coat_mass_g),
        Quantity(name="coat_mm", label="coat thickness", unit="mm", of=lambda p: p.coat_mm),
        Quantity(name="dwell_s", label="dwell", unit="s", of=lambda p: p.dwell_s),
        Quantity(
            name="set_percent",
            label="skin set",
            unit="%",
            of=lambda p: None if p.set_fraction is None else 100.0 * p.set_fraction,
        ),
        Quantity(name="order", label="number of the piece", unit="", of=lambda p: float(p.piece)),
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
    """

    defect: str
    pieces: tuple[int, ...]
    of: int
    low: float
    high: float
    differences: tuple[Difference, ...]

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
    return PiecesTold(
        defect=defect,
        pieces=tuple(hit),
        of=len(rows),
        low=low,
        high=high,
        differences=tuple(_differences(set(hit), list(rows.values()), run.findings)),
    )


def _differences(
    hit: set[int], rows: Sequence[PieceRow], findings: Sequence[Finding]
) -> list[Difference]:
    """Return what sets pieces apart, surest first."""
    looked = [d for q in QUANTITIES.values() if (d := _by_rank(q, hit, rows)) is not None]
    looked += _by_limit(hit, findings)
    raised = holm([p for _, _, p, _, _ in looked])
    found = []
    for (quantity, side, _, says, apart), p in zip(looked, raised, strict=True):
        if p < LEVEL:
            says += f" (chance {percent_text(p)} if it had nothing to do with it)"
        elif not apart:
            continue
        found.append(Difference(quantity=quantity, side=side, p=p, says=says))
    return sorted(found, key=lambda d: d.p)


_Looked = tuple[str, Literal["low", "high", "limit"], float, str, bool]
"""Name, side, chance alone, in words, and whether the pieces lie wholly apart."""


def _by_rank(quantity: Quantity, hit: set[int], rows: Sequence[PieceRow]) -> _Looked | None:
    """Compare a number of the pieces with a defect with that of the others."""
    known = [(row.piece in hit, v) for row in rows if (v := quantity.of(row)) is not None]
    ours, others = ([v for is_hit, v in known if is_hit is side] for side in (True, False))
    if not ours or not others:
        return None
    higher = sum((a > b) - (a < b) for a in ours for b in others) > 0
    unit = quantity.unit
    says = f"{quantity.label} {_span(ours, unit)} compared with {_span(others, unit)} in the others"
    apart = quantity.name != "order" and (min(ours) > max(others) or max(ours) < min(others))
    p = rank_sum_p(ours, others)
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

"""What the review keeps of a run: its numbers and its ingredients, small enough to keep many.

Pure; made of a run's facts once, then compared with others without opening the run again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from logger.model.finding import Finding
from logger.model.rows import GapRow, PieceRow
from logger.model.sheet import Ingredient, Sheet
from logger.review.features.facts import RunFacts
from logger.review.features.feature import Feature
from logger.review.features.features import features
from logger.review.features.stage_features import SURE_PIECE

GROUPS = ("fat", "water", "binder", "alginate", "salt", "filling")
"""Groups of ingredients that knowledge can name; ``salt`` is the calcium salt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Portrait:
    """One run, as it is compared.

    Attributes
    ----------
    features : mapping of str to Feature
        By name.
    findings : sequence of Finding
        What the engine judged.
    unweighed : frozenset of str
        Groups of which something was not weighed in though the run has a weighing stage in which
        something was.
    gaps : sequence of GapRow
        Stretches without readings that may be judged.
    notes : tuple of str
        As typed.
    unchecked : mapping of str to str
        Channels whose sensor was never checked or is overdue, and how it stands in words.
    pieces : sequence of PieceRow
        What was measured of each piece; a dwell that may be another piece's is left out.
    piece_defects : mapping of int to tuple of str
        Defects that were said of single pieces.
    """

    run_id: str
    sheet: Sheet
    outcome: str | None
    defects: tuple[str, ...]
    features: Mapping[str, Feature]
    findings: Sequence[Finding]
    unweighed: frozenset[str]
    gaps: Sequence[GapRow]
    notes: tuple[str, ...]
    unchecked: Mapping[str, str] = field(default_factory=dict)
    pieces: Sequence[PieceRow] = ()
    piece_defects: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    @property
    def product(self) -> str:
        """Runs of one product are compared."""
        return self.sheet.sheet.product or self.sheet.sheet.name

    def lots(self, group: str) -> frozenset[str]:
        """Return the lots of a group that the sheet names."""
        return frozenset(i.lot for i in of_group(self.sheet, group) if i.lot)

    def kinds(self, group: str) -> frozenset[str]:
        """Return what a group is made of: fats and salts by key, the rest by name."""
        return frozenset(i.fat or i.salt or i.name for i in of_group(self.sheet, group))


def portrait(facts: RunFacts) -> Portrait:
    """Take the portrait of a run."""
    return Portrait(
        run_id=facts.run_id,
        sheet=facts.sheet,
        outcome=facts.outcome,
        defects=facts.defects,
        features=features(facts),
        findings=tuple(facts.results.findings),
        unweighed=_unweighed(facts),
        gaps=tuple(facts.results.gaps),
        notes=tuple(n.text for n in facts.results.notes),
        unchecked={
            row.channel: f"{row.label}: {row.says}"
            for row in facts.results.sensors
            if row.check != "good"
        },
        pieces=_pieces(facts),
        piece_defects=facts.piece_defects,
    )


def _pieces(facts: RunFacts) -> tuple[PieceRow, ...]:
    """Return the pieces with only what is surely theirs; those that only the bath saw as well."""
    rows = facts.results.immersions
    sure = {r.piece for r in rows if (r.confidence or 0.0) >= SURE_PIECE}
    known = {row.piece: row for row in facts.results.pieces}
    bathed = (
        PieceRow(piece=r.piece, dwell_s=r.dwell_s, set_fraction=r.set_fraction)
        for r in rows
        if r.piece is not None and r.piece not in known
    )
    known |= {row.piece: row for row in bathed}
    return tuple(
        row if piece in sure else replace(row, dwell_s=None, set_fraction=None)
        for piece, row in sorted(known.items())
    )


def of_group(sheet: Sheet, group: str) -> list[Ingredient]:
    """Return the ingredients of a group."""
    if group == "salt":
        return [i for i in sheet.ingredient if i.salt is not None]
    if group in ("binder", "alginate"):
        return [i for i in sheet.ingredient if i.substance == group]
    if group == "water":
        return [i for i in sheet.of_phase("water") if i.substance == "water"]
    return sheet.of_phase(group)


def _unweighed(facts: RunFacts) -> frozenset[str]:
    weighed = {row.ingredient for row in facts.results.weighings if row.mass_g is not None}
    if not weighed:
        return frozenset()
    return frozenset(
        group
        for group in GROUPS
        if any(i.name not in weighed for i in of_group(facts.sheet, group))
    )

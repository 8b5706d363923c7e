"""Limits that a run broke: on which side, and in how many of its pieces.

Pure; findings of the engine in, limits with what broke them out. Used by logger.review.why.evidence
and explain; how strongly a broken limit speaks for a cause is said there.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from logger.model.finding import Finding, Verdict
from logger.review.features.portrait import Portrait
from logger.review.why.knowledge import Mechanism, Side, Sign
from logger.words.bands import band_text, span_text
from logger.words.counts import count_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """One limit of a stage that was broken, all its pieces together.

    Attributes
    ----------
    kind : str
        Kind of the stage.
    findings : tuple of Finding
        Those not met, at least one; of one check, one for each piece where it is judged so.
    judged : int
        How many were decided one way or the other.
    """

    kind: str
    findings: tuple[Finding, ...]
    judged: int

    @property
    def first(self) -> Finding:
        """The first of its findings; what they share can be asked of it."""
        return self.findings[0]

    @property
    def by_piece(self) -> bool:
        """Whether the limit is one of each piece."""
        return self.first.piece is not None

    def on(self, side: Side) -> "Broken | None":
        """Return the part that broke the limit on a side; None where nothing did.

        Notes
        -----
        ``some`` is all of it where most pieces kept the limit, or where it was broken on both
        sides: then the pieces differ, rather than all being off.
        """
        if side == "some":
            sides = {_side(f) for f in self.findings}
            return self if self.by_piece and (len(sides) > 1 or not self.most) else None
        kept = tuple(f for f in self.findings if _side(f) in (side, None))
        return replace(self, findings=kept) if kept else None

    @property
    def most(self) -> bool:
        """Whether more than half of what was judged broke it."""
        return 2 * len(self.findings) > self.judged

    @property
    def says(self) -> str:
        """What was measured and the limit, in words."""
        first, count = self.first, len(self.findings)
        if not self.by_piece or count == 1:
            of = "" if first.piece is None else f" of piece {first.piece}"
            return f"{first.check}{of}: {first.evidence}"
        values = [f.value for f in self.findings if f.value is not None]
        pieces = ", ".join(str(f.piece) for f in self.findings)
        return (
            f"{first.check}: {span_text(min(values), max(values), first.unit)} in {count} of "
            f"{count_text(self.judged, 'piece')} ({pieces}); target "
            f"{band_text(first.low, first.high, first.unit)}"
        )

    def as_finding(self) -> Finding:
        """Return it as one finding: the worst value, over the time of all."""
        starts = [f.from_s for f in self.findings if f.from_s is not None]
        ends = [f.to_s for f in self.findings if f.to_s is not None]
        worst = max(self.findings, key=_beyond)
        return replace(
            worst,
            from_s=min(starts, default=None),
            to_s=max(ends, default=None),
            evidence=self.says,
        )


def broken_limits(run: Portrait) -> tuple[Broken, ...]:
    """Return the limits that a run broke, in the order in which they were judged."""
    return _with(run, "not met")


def near_limits(run: Portrait) -> tuple[Broken, ...]:
    """Return the limits that most pieces, or the one value, are beyond, too close to be sure."""
    beyond = ((b, [f for f in b.findings if _side(f)]) for b in _with(run, "undecided"))
    return tuple(
        replace(b, findings=tuple(found)) for b, found in beyond if 2 * len(found) > b.judged
    )


def _with(run: Portrait, verdict: Verdict) -> tuple[Broken, ...]:
    kinds = {stage.id: stage.kind for stage in run.sheet.stage}
    alike: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in run.findings:
        if finding.stage in kinds and finding.verdict in ("met", "not met", verdict):
            alike.setdefault((finding.stage, finding.key, finding.subject), []).append(finding)
    found = []
    for (stage, _, _), judged in alike.items():
        missed = tuple(f for f in judged if f.verdict == verdict)
        if missed:
            found.append(Broken(kind=kinds[stage], findings=missed, judged=len(judged)))
    return tuple(found)


def of_stages_behind(
    broken: Iterable[Broken], defect: str, knowledge: Sequence[Mechanism]
) -> tuple[Broken, ...]:
    """Return the broken limits of stages that can lead to a defect.

    Parameters
    ----------
    broken : iterable of Broken
        Limits that the run broke.
    defect : str
        In the words of the sheet; any stage can lead to one of which nothing is known.
    knowledge : sequence of Mechanism
        What is known of causes.
    """
    kinds = {m.stage for m in knowledge if defect in m.leads_to}
    return tuple(b for b in broken if not kinds or b.kind in kinds)


def can_lead(broken: Broken, defect: str, knowledge: Sequence[Mechanism]) -> bool:
    """Whether a broken limit can lead to a defect, as far as is known.

    Parameters
    ----------
    broken : Broken
        A limit of a stage that can lead to it.
    defect : str
        In the words of the sheet.
    knowledge : sequence of Mechanism
        What is known of causes.

    Notes
    -----
    False only where all causes that show by this limit, on this side, lead to something else.
    """
    of_it = [m for m in knowledge if any(_shows(s, broken) for s in m.shows)]
    return not of_it or any(defect in m.leads_to for m in of_it)


def _shows(sign: Sign, broken: Broken) -> bool:
    if sign.what != "limit" or sign.of != broken.first.key:
        return False
    return sign.side is not None and broken.on(sign.side) is not None


def _side(finding: Finding) -> Side | None:
    """Return on which side a limit was broken; None where it has no value or no sides."""
    if finding.value is None:
        return None
    if finding.low is not None and finding.value < finding.low:
        return "low"
    return "high" if finding.high is not None and finding.value > finding.high else None


def _beyond(finding: Finding) -> float:
    """Return how far a value is beyond its limit [its unit]."""
    if finding.value is None:
        return 0.0
    edges = {"low": finding.low, "high": finding.high}
    edge = edges.get(_side(finding) or "")
    return abs(finding.value - edge) if edge is not None else 0.0

"""How strongly a run shows a sign: beyond the sheet's limit, unlike the good runs, or not measured.

Pure; used by logger.review.why.explain. A strength is a rank from 0 to 1, no probability: its
steps are chosen so that a broken limit outweighs an odd number, and a changed lot alone proves
little.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from logger.model.checks import figure_key
from logger.model.finding import Finding, Verdict
from logger.model.kinds.record.stage import COMMON_PRACTICE
from logger.model.kinds.registry import kind_of
from logger.model.written import Band
from logger.review.features.feature import Feature, Span, Spec
from logger.review.features.portrait import Portrait, of_group
from logger.review.why.broken import Broken, broken_limits, near_limits
from logger.review.why.knowledge import Sign
from logger.review.why.pieces import ALL, PiecesTold, pieces_told
from logger.review.why.unlike import FEWEST, MOST, Unlike, holm, unlike
from logger.watch.verdict.checks import COVERAGE, judge
from logger.words.bands import span_text, target_text
from logger.words.counts import count_text
from logger.words.digits import fixed
from logger.words.labels import check_label
from logger.words.values import places_of, value_text, with_unit

CLAIM = 0.05
"""Chance of calling any number of a good run unlike by mistake."""
_LIMIT_BROKEN, _LIMIT_NEAR = 0.8, 0.3
_SOME_BROKE = 0.6  # where most pieces kept the limit: that some differ explains more
_PIECES_DIFFER = 0.9  # by a test of the pieces of this very batch
_PIECES_ALIKE = 0.45  # points to what was not measured of each piece, and proves none of it
_UNLIKE_FROM, _UNLIKE_STEP, _UNLIKE_TO = 0.5, 0.1, 0.95
_ANOTHER_KIND, _ANOTHER_LOT, _UNWEIGHED = 0.6, 0.25, 0.6
_DOUBT = 0.5  # of a number whose channel was silent or stuck for a fifth of the time it is from
_DOUBT_SHARE = 0.2
_KINDS = {
    "limit": "compared with the sheet's limit",
    "unlike": "unlike the good batches",
    "pieces": "unlike the other pieces",
    "difference": "not as in the good batches",
    "usual": "as in the good batches",
    "compared": "two sensors compared",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One sign as one run shows it.

    Attributes
    ----------
    strength : float
        0 (not shown) to 1.
    kind : str
        ``limit``: the sheet's limit is broken or near; ``unlike``: unlike the good runs;
        ``pieces``: the pieces with the defect are unlike the others of the batch;
        ``difference``: another ingredient or lot; ``usual``; ``compared``: two sensors compared.
    finding : Finding
        Value, uncertainty, limits or range of the good runs, place on the trace, in words.
    doubtful : bool
        The channel was faulty at that time.
    """

    sign: Sign
    strength: float
    kind: str
    finding: Finding
    doubtful: bool = False

    def as_json(self) -> dict[str, Any]:
        """Return the finding as plain JSON values, with its kind and strength."""
        return {**asdict(self.finding), "kind": self.kind, "strength": round(self.strength, 3)}

    @property
    def kind_text(self) -> str:
        """What kind of evidence it is, in words."""
        return _KINDS[self.kind]


class Witness:
    """What one run shows, against its sheet and against the good runs.

    Parameters
    ----------
    run : Portrait
        The run.
    good : sequence of Portrait
        Good runs of the same product, the latest first; at most 20 are used.
    suspects : collection of str
        Features to look at first, because they lead to what came out; empty for all alike.
    """

    def __init__(
        self, run: Portrait, good: Sequence[Portrait], suspects: Collection[str] = ()
    ) -> None:
        self.run = run
        self.pieces = pieces_told(run)
        self.broken, self.near = broken_limits(run), near_limits(run)
        self.good = [g for g in good if g.run_id != run.run_id][:MOST]
        self.unlike = {n: u for n, f in run.features.items() if (u := self._unlike(f)) is not None}
        self.chance = _raised(self.unlike, suspects)

    @property
    def compared(self) -> bool:
        """Whether there are enough good runs to claim anything from them."""
        return len(self.good) >= FEWEST

    def look(self, sign: Sign, leads_to: Collection[str] = ()) -> Evidence | None:
        """Return how the run shows a sign, or None where it cannot be told.

        Parameters
        ----------
        sign : Sign
            What to look for.
        leads_to : collection of str
            Defects of the cause that it is a sign of: pieces are told apart by these alone.
        """
        if sign.what == "feature":
            feature = self.run.features.get(sign.of)
            return None if feature is None or feature.value is None else self._number(sign, feature)
        if sign.what == "limit":
            return self._limit(sign)
        if sign.what == "piece":
            told = [t for t in self.pieces if t.defect in leads_to]
            return next((e for t in told if (e := self._pieces(sign, t)) is not None), None)
        if not self.good:
            return None
        return self._difference(sign)

    def band(self, feature: Feature) -> Band | None:
        """Return the band that the sheet sets for a feature."""
        stage = next((s for s in self.run.sheet.stage if s.id == feature.stage), None)
        target = feature.spec.target
        return getattr(stage, target, None) if stage is not None and target else None

    def _unlike(self, feature: Feature) -> Unlike | None:
        if feature.value is None or math.isnan(feature.u):
            return None
        values = [
            other.value
            for g in self.good
            if (other := g.features.get(feature.spec.name)) is not None and other.value is not None
        ]
        return unlike(feature.value, values, u=feature.u, least=feature.spec.least)

    def _number(self, sign: Sign, feature: Feature) -> Evidence:
        if feature.value is None:
            raise ValueError("a number is needed")
        odd = self.unlike.get(feature.spec.name)
        band = self.band(feature) or _by_habit(sign, feature, odd)
        by_limit, verdict = self._by_limit(sign, feature, band)
        by_good = self._by_good(sign, feature, odd)
        doubtful = self._doubtful(feature.span)
        strength = 1.0 - (1.0 - by_limit) * (1.0 - by_good)
        kind = "limit" if by_limit >= by_good and by_limit > 0.0 else "unlike"
        if sign.direction == "usual":
            inside = odd is not None and abs(odd.away) <= 1.0
            strength, kind = (1.0 if inside else 0.0), "usual"
        elif sign.direction in ("zero", "apart"):
            strength, kind = _compared(feature, sign.direction == "zero"), "compared"
        return Evidence(
            sign=sign,
            strength=strength * (_DOUBT if doubtful else 1.0),
            kind=kind,
            finding=_as_finding(self.run, feature, band, odd, verdict, doubtful),
            doubtful=doubtful,
        )

    def _by_limit(self, sign: Sign, feature: Feature, band: Band | None) -> tuple[float, Verdict]:
        if band is None or feature.value is None:
            return 0.0, "undecided"
        verdict, _ = judge(feature.value, feature.u, band, self.run.sheet.sheet.decision_rule)
        edge = band.low if sign.direction == "low" else band.high
        if edge is None or math.isnan(feature.u):
            return 0.0, verdict
        beyond = feature.value < edge if sign.direction == "low" else feature.value > edge
        if not beyond:
            return 0.0, verdict
        return {"not met": _LIMIT_BROKEN, "undecided": _LIMIT_NEAR}.get(verdict, 0.0), verdict

    def _by_good(self, sign: Sign, feature: Feature, odd: Unlike | None) -> float:
        if odd is None or (odd.away < 0.0) != (sign.direction == "low"):
            return 0.0
        chance = self.chance[feature.spec.name]
        if chance >= CLAIM:
            return 0.0
        return min(_UNLIKE_TO, _UNLIKE_FROM - _UNLIKE_STEP * math.log10(max(chance, 1e-12)))

    def _limit(self, sign: Sign) -> Evidence | None:
        if sign.side is None:
            return None
        for limits in (self.broken, self.near):
            of_key = [b for b in limits if b.first.key == sign.of]
            sides = [side for b in of_key if (side := b.on(sign.side)) is not None]
            if sides:
                return self.as_evidence(max(sides, key=lambda b: len(b.findings)), sign)
        return None

    def _pieces(self, sign: Sign, told: PiecesTold) -> Evidence | None:
        if sign.of == ALL:
            strength = _PIECES_ALIKE if told.alike else 0.0
            says = "nothing that was measured of each piece surely sets them apart"
        else:
            of_sign = (sign.of, sign.direction)
            sure = [d for d in told.differences if (d.quantity, d.side) == of_sign and d.p < CLAIM]
            strength = _PIECES_DIFFER if sure else 0.0
            says = sure[0].says if sure else ""
        if not strength:
            return None
        key = "piece.defect"
        finding = Finding(
            key=key,
            subject=told.defect,
            check=check_label(key, told.defect),
            stage="",
            verdict="undecided",
            evidence=f"{told.share}: {says}",
            source="pieces of the batch",
        )
        return Evidence(sign=sign, strength=strength, kind="pieces", finding=finding)

    def as_evidence(self, broken: Broken, sign: Sign | None = None) -> Evidence:
        """Return a broken limit as evidence of a sign, its own where none is given."""
        finding = broken.as_finding()
        if sign is None:
            sign = Sign(what="limit", of=finding.key, direction="some")
        doubtful = self._doubtful(Span(finding.channel, finding.from_s, finding.to_s))
        few = broken.by_piece and not broken.most and sign.direction != "some"
        strength = _SOME_BROKE if few else _LIMIT_BROKEN
        if finding.verdict == "undecided":
            strength = _LIMIT_NEAR
        return Evidence(
            sign=sign,
            strength=strength * (_DOUBT if doubtful else 1.0),
            kind="limit",
            finding=finding,
            doubtful=doubtful,
        )

    def _doubtful(self, span: Span) -> bool:
        if span.channel is None or span.from_s is None or span.to_s is None:
            return False
        lost_s = 0.0
        for gap in self.run.gaps:
            if gap.channel == span.channel:
                until_s = span.to_s if gap.to_s is None else gap.to_s
                lost_s += max(0.0, min(until_s, span.to_s) - max(gap.from_s, span.from_s))
        return lost_s > _DOUBT_SHARE * max(span.to_s - span.from_s, 1e-9)

    def _difference(self, sign: Sign) -> Evidence:
        group, run = sign.of, self.run
        if sign.what == "unweighed":
            before = any(group in g.unweighed for g in self.good)
            here = group in run.unweighed and not before
            says = f"{_name(run, group)} was not weighed in; in the good batches it was"
            return _said(sign, run, _UNWEIGHED if here else 0.0, says)
        now = run.kinds(group) if sign.what == "kind" else run.lots(group)
        usual = frozenset().union(
            *(g.kinds(group) if sign.what == "kind" else g.lots(group) for g in self.good)
        )
        new = now - usual if usual else frozenset()
        word = "" if sign.what == "kind" else "lot "
        had = f"{word}{_listed(usual)}"
        says = f"{_name(run, group)}: {word}{_listed(new)}; the good batches had {had}"
        weight = _ANOTHER_KIND if sign.what == "kind" else _ANOTHER_LOT
        return _said(sign, run, weight if new else 0.0, says)


def _by_habit(sign: Sign, feature: Feature, odd: Unlike | None) -> Band | None:
    """Return the limit of a number of which the sheet sets none; None where good runs go by it."""
    if sign.beyond is None or (odd is not None and abs(odd.away) <= 1.0):
        return None
    ends = {sign.direction: sign.beyond}
    return Band(
        low=ends.get("low"), high=ends.get("high"), unit=feature.spec.unit, source=COMMON_PRACTICE
    )


def _compared(feature: Feature, alike: bool) -> float:
    """Return 1 where two sensors agree, or surely differ, as asked; 0 where not or not known."""
    if feature.value is None or math.isnan(feature.u):
        return 0.0
    return float((abs(feature.value) <= COVERAGE * feature.u) is alike)


def _raised(found: Mapping[str, Unlike], suspects: Collection[str]) -> dict[str, float]:
    """Raise the chances for having looked at many numbers, suspects as a family of their own."""
    chances: dict[str, float] = {}
    for family in (list(found), [name for name in found if name in suspects]):
        for name, chance in zip(family, holm([found[n].p for n in family]), strict=True):
            chances[name] = min(chance, chances.get(name, 1.0))
    return chances


def _as_finding(
    run: Portrait,
    feature: Feature,
    band: Band | None,
    odd: Unlike | None,
    verdict: Verdict,
    doubtful: bool,
) -> Finding:
    unit, expanded = feature.spec.unit, COVERAGE * feature.u
    known = math.isfinite(expanded)
    says = [feature_text(feature)]
    if band is not None:
        of_sheet = band.source != COMMON_PRACTICE or feature.spec.target is not None
        says.append(f"{'target' if of_sheet else 'usually'} {target_text(band)}")
    if odd is not None:
        says.append(good_text(odd, feature.spec))
    if doubtful:
        says.append("the channel was silent or stuck at that time, so the number is doubtful")
    key = figure_key(feature.spec.name)
    return Finding(
        key=key,
        check=check_label(key),
        stage=feature.stage,
        verdict=verdict,
        value=feature.value,
        unit=unit,
        expanded_uncertainty=expanded if known else None,
        low=band.low if band is not None else _lowest(feature, odd),
        high=band.high if band is not None else (odd.high if odd is not None else None),
        from_s=feature.span.from_s,
        to_s=feature.span.to_s,
        evidence="; ".join(says),
        channel=feature.span.channel,
        rule=run.sheet.sheet.decision_rule,
        source=band.source if band is not None else "good batches",
        assumed=_is_assumed(run, feature),
    )


def _is_assumed(run: Portrait, feature: Feature) -> bool:
    """Whether the sensor that a number was read from has an assumed uncertainty; no time has."""
    channel = feature.span.channel
    if channel is None or feature.spec.unit == "s":
        return False
    return any(f.assumed and f.channel == channel for f in run.findings)


def feature_text(feature: Feature) -> str:
    """Write a number with its name and expanded uncertainty, and of what it was taken."""
    expanded = COVERAGE * feature.u
    value = value_text(feature.value or 0.0, feature.spec.unit, expanded)
    among = f" ({feature.among})" if feature.among else ""
    return f"{feature.spec.label} {value}{among}"


def good_text(odd: Unlike, spec: Spec) -> str:
    """Write where the good batches lie and what is typical of them."""
    unit = spec.unit
    typical = span_text(max(odd.low, spec.lowest), odd.high, unit)
    usual = fixed(odd.median, places_of(odd.high, unit))
    middle = value_text(odd.median, unit) if unit == "s" else with_unit(usual, unit)
    return (
        f"{count_text(odd.count, 'good batch', 'good batches')}: about {middle} (typical {typical})"
    )


def _lowest(feature: Feature, odd: Unlike | None) -> float | None:
    return None if odd is None else max(odd.low, feature.spec.lowest)


def _said(sign: Sign, run: Portrait, strength: float, says: str) -> Evidence:
    stage = next((s.id for s in run.sheet.stage if kind_of(s).weighs_in), "")
    key = f"ingredient.{sign.what}"
    finding = Finding(
        key=key,
        subject=sign.of,
        check=check_label(key, sign.of),
        stage=stage,
        verdict="undecided",
        evidence=says,
        source="good batches",
    )
    return Evidence(sign=sign, strength=strength, kind="difference", finding=finding)


def _name(run: Portrait, group: str) -> str:
    return ", ".join(i.name for i in of_group(run.sheet, group)) or group


def _listed(names: Collection[str]) -> str:
    """Write lots, or keys of fats and salts, as a person reads them."""
    return ", ".join(name.replace("_", " ") for name in sorted(names))

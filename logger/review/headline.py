"""What a run came to, from its findings: one sentence, how many checks of each verdict, the worst.

Pure: findings and the explanation in, records and text out; the same sentence stands on the page of
a run and on its report. A check of which the sheet sets no limit is counted for information; a
sentence never claims more than the findings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from logger.model.finding import Finding
from logger.review.why.explanation import Explanation, capital
from logger.words.counts import count_text
from logger.words.values import with_unit

STANDINGS = {
    "not met": ("stop", "not met"),
    "too close": ("warn", "too close to call"),
    "met": ("good", "met"),
    "not measured": ("none", "not measured"),
    "for information": ("none", "for information"),
}
"""Look and word of how checks stand, worst first."""


class Numbers(Protocol):
    """How numbers are written: in the units of the program, or in those a person chose."""

    def unit(self, unit: str) -> str:
        """Return a unit as it is shown."""

    def text(self, value: float | None, unit: str, u_expanded: float | None = None) -> str:
        """Return a number [unit] without its unit, to the place of its uncertainty."""

    def plain(self, value: float | None, unit: str, u_expanded: float | None = None) -> str:
        """Return a number [unit] with its unit, to the place of its uncertainty."""

    def spread(self, u_expanded: float | None, unit: str) -> str:
        """Return an uncertainty [unit] alone; empty where none is known."""

    def band(self, low: float | None, high: float | None, unit: str) -> str:
        """Return a target [unit]; empty for none."""


def standing(found: Finding) -> str:
    """Return how a check stands: a key of `STANDINGS`."""
    if found.verdict == "not measured":
        return "not measured"
    if found.low is None and found.high is None:
        return "for information"
    return "too close" if found.verdict == "undecided" else str(found.verdict)


def counted(findings: Sequence[Finding]) -> dict[str, int]:
    """Return how many checks stand each way, worst first; those of none are left out."""
    stand = [standing(found) for found in findings]
    return {name: stand.count(name) for name in STANDINGS if name in stand}


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One check as it stands, of one thing or of several pieces.

    Attributes
    ----------
    findings : tuple of Finding
        Those that stand so, of the same check and stage.
    among : int
        How many pieces were judged by the check.
    """

    findings: tuple[Finding, ...]
    among: int

    @property
    def first(self) -> Finding:
        """The first of them."""
        return self.findings[0]

    @property
    def label(self) -> str:
        """What the check is called, with the pieces it is about."""
        name = self.first.check[:1].upper() + self.first.check[1:]
        if self.first.piece is None:
            return name
        if len(self.findings) == 1:
            return f"{name}, piece {self.first.piece}"
        return f"{name}, {len(self.findings)} of {self.among} pieces"

    @property
    def from_s(self) -> float | None:
        """When the first of them is on the trace [s]."""
        return min((f.from_s for f in self.findings if f.from_s is not None), default=None)

    @property
    def to_s(self) -> float | None:
        """When the last of them is on the trace [s]."""
        return max((f.to_s for f in self.findings if f.to_s is not None), default=None)

    def value_text(self, numbers: Numbers) -> str:
        """Write the value, or the smallest and the largest."""
        first = self.first
        values = [f.value for f in self.findings if f.value is not None]
        if not values or len(self.findings) == 1:
            return numbers.plain(first.value, first.unit, first.expanded_uncertainty)
        low, high = (
            numbers.text(v, first.unit, first.expanded_uncertainty)
            for v in (min(values), max(values))
        )
        whole = numbers.plain(max(values), first.unit, first.expanded_uncertainty)
        return whole if low == high else f"{low} to {whole}"

    def spread_text(self, numbers: Numbers) -> str:
        """Write the largest uncertainty; empty where none is known."""
        spreads = [f.expanded_uncertainty for f in self.findings if f.expanded_uncertainty]
        unit = self.first.unit
        spread = numbers.spread(max(spreads), unit) if spreads else ""
        shown = numbers.unit("K" if unit == "degC" else unit)
        return spread if not spread or unit == "s" else with_unit(spread, shown)

    def target_text(self, numbers: Numbers) -> str:
        """Write the target."""
        return numbers.band(self.first.low, self.first.high, self.first.unit)


def groups(findings: Sequence[Finding], stands: str) -> list[Group]:
    """Return the checks that stand one way, pieces of one check together, in their order."""
    found: dict[tuple[str, str, str, bool], list[Finding]] = {}
    among: dict[tuple[str, str, str, bool], int] = {}
    for one in findings:
        key = (one.stage, one.key, one.subject, one.piece is not None)
        if standing(one) != "not measured":
            among[key] = among.get(key, 0) + 1
        if standing(one) == stands:
            found.setdefault(key, []).append(one)
    return [Group(findings=tuple(f), among=among.get(k, len(f))) for k, f in found.items()]


def headline(findings: Sequence[Finding], numbers: Numbers) -> str:
    """Return what a run came to, in one sentence."""
    count = counted(findings)
    missed = groups(findings, "not met")
    if missed:
        return _missed(missed[0], numbers)
    if not count:
        return "Nothing was judged in this run."
    others = [
        f"{count[name]} {STANDINGS[name][1]}"
        for name in ("too close", "not measured")
        if name in count
    ]
    if not count.get("met"):
        return f"No check could be called met: {', '.join(others) or 'no target was set'}."
    return f"No target missed: {', '.join([count_text(count['met'], 'check') + ' met', *others])}."


def _missed(group: Group, numbers: Numbers) -> str:
    worst = _farthest(group)
    low, value = worst.low, worst.value
    below = value is not None and low is not None and value < low
    ways = ("too short", "too long") if worst.unit == "s" else ("too low", "too high")
    way = ways[0] if below else ways[1]
    if value is None:
        return f"{group.label}: not met."
    found, target = group.value_text(numbers), group.target_text(numbers)
    return f"{group.label} {way}: {found}, target {target}."


def _farthest(group: Group) -> Finding:
    def beyond(found: Finding) -> float:
        if found.value is None:
            return 0.0
        low = 0.0 if found.low is None else found.low - found.value
        return max(low, 0.0 if found.high is None else found.value - found.high)

    return max(group.findings, key=beyond)


def close_words(findings: Sequence[Finding], numbers: Numbers) -> str:
    """Say which checks are too close to call; empty for none."""
    said = [
        f"{g.label}: {g.value_text(numbers)}, {g.spread_text(numbers) or 'uncertainty unknown'}, "
        f"target {g.target_text(numbers)}."
        for g in groups(findings, "too close")[:2]
    ]
    return f"Too close to call: {' '.join(said)}" if said else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a run came to, in words.

    Attributes
    ----------
    headline : str
        One sentence.
    lead : str
        What goes with it; may be empty.
    next_time : str
        What to do next time; may be empty.
    """

    headline: str
    lead: str = ""
    next_time: str = ""


def said_of(
    findings: Sequence[Finding], outcome: str | None, why: Explanation | None, numbers: Numbers
) -> Said:
    """Return what a run came to, and what to do next time.

    Parameters
    ----------
    findings : sequence of Finding
        Of the run.
    outcome : str or None
        ``accepted``, ``rejected``, or None where nobody has said.
    why : Explanation or None
        Of a run that was rejected. Where no check was not met, its first cause is the headline.
    numbers : Numbers
        How numbers are written.
    """
    says, lead = headline(findings, numbers), close_words(findings, numbers)
    missed = any(standing(f) == "not met" for f in findings)
    cause = why.causes[0] if why is not None and why.causes else None
    if outcome == "rejected" and not missed:
        lead = says
        says = f"{capital(cause.mechanism.cause)}." if cause is not None else "Rejected."
    elif missed:
        lead = ""
    next_time = cause.mechanism.next_time if cause is not None else ""
    return Said(headline=says, lead=lead, next_time=f"{capital(next_time)}." if next_time else "")

"""Words that a report uses on the page and on paper alike.

Pure text; used by logger.review.papers.report and report_pages.
"""

from collections.abc import Iterable, Sequence

from logger.model.finding import Finding
from logger.words.dates import moment_text
from logger.words.verdicts import verdict_of

_ORDER = ("not met", "undecided", "not measured", "met")
NOTICE = (
    "This report shows what sensors recorded and what follows from it by the rules that it names. "
    "It does not certify food as safe; follow local regulations, and discard when in doubt."
)


def came_out(outcome: str | None, defects: Sequence[str]) -> str:
    """Return outcome and defects in words."""
    if not outcome:
        return "nobody has said yet how it came out"
    return f"{outcome}: {', '.join(defects)}" if defects else outcome


def ordered(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings with the broken limits first."""
    return sorted(findings, key=lambda f: _ORDER.index(f.verdict))


def verdict(found: Finding) -> str:
    """Return the verdict of a finding by its name."""
    return verdict_of(
        found.verdict,
        value=found.value,
        u_expanded=found.expanded_uncertainty,
        low=found.low,
        high=found.high,
        assumed=found.assumed,
    )


def began(started: str) -> str:
    """Return when a run began: day, time to the minute, and offset to UTC."""
    offset = started.partition("T")[2][8:].replace("+00:00", "UTC")
    return f"{moment_text(started)} {offset}".strip()


def place(finding: Finding) -> str:
    """Return the stage and piece of a finding, where it has them."""
    piece = f"piece {finding.piece}" if finding.piece else ""
    return ", ".join(part for part in (finding.stage, piece) if part)

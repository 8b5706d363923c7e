"""Words that a report uses on the page and on paper alike.

Pure text; used by logger.review.papers.report and report_pages.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from logger.words.durations import clock_span
from logger.words.verdicts import verdict_of

_ORDER = ("not met", "undecided", "not measured", "met")
NOTICE = (
    "This report shows what sensors recorded and what follows from it by the rules named. It does "
    "not certify food as safe; follow local regulation, and discard when in doubt."
)


def came_out(run: Mapping[str, Any]) -> str:
    """Return outcome and defects in words."""
    if not run.get("outcome"):
        return "nobody has said yet how it came out"
    defects = run.get("defects") or []
    return f"{run['outcome']}{': ' + ', '.join(defects) if defects else ''}"


def ordered(findings: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return findings with the broken limits first."""
    return sorted(findings, key=lambda f: _ORDER.index(f["verdict"]))


def verdict(finding: Mapping[str, Any]) -> str:
    """Return the verdict of a finding by its name."""
    return verdict_of(
        str(finding["verdict"]),
        value=finding.get("value"),
        u_expanded=finding.get("expanded_uncertainty"),
        low=finding.get("low"),
        high=finding.get("high"),
    )


def span(row: Mapping[str, Any], start: str = "from_s", end: str = "to_s") -> str:
    """Return a stretch of the run as clocks, or nothing.

    Parameters
    ----------
    row : mapping
        Row of a run's results.
    start, end : str
        Its keys of begin and end [s].
    """
    return clock_span(row.get(start), row.get(end))


def began(run: Mapping[str, Any]) -> str:
    """Return when a run began: day, time to the minute, and offset to UTC."""
    day, _, clock = str(run["started"]).partition("T")
    return f"{day} {clock[:5]} {clock[8:].replace('+00:00', 'UTC')}".strip()


def place(finding: Mapping[str, Any]) -> str:
    """Return the stage and piece of a finding, where it has them."""
    piece = f"piece {finding['piece']}" if finding.get("piece") else ""
    return ", ".join(part for part in (str(finding.get("stage") or ""), piece) if part)

"""What the pages of a report say, as plain records for the template.

Pure; the content of logger.review.papers.report_content in, records out. Places in a picture are
shares of its width. Long lists are cut where the page would overflow, and how much was left out is
said; the HTML report has all of it.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from logger.batch.results import result_text
from logger.correct import lagless
from logger.model.finding import Finding
from logger.review.headline import STANDINGS, Group, counted, groups
from logger.review.papers.again import Phase, Step, recipe, steps, vessels
from logger.review.papers.figures import traces_svg
from logger.review.papers.report_content import ReportContent
from logger.review.papers.report_words import NOTICE, came_out
from logger.review.targets import names_of
from logger.review.why.explanation import capital
from logger.watch.sensors.probechecks import sentences
from logger.words.counts import count_text
from logger.words.dates import moment_text
from logger.words.digits import DASH
from logger.words.durations import clock, clock_or_between, duration_text
from logger.words.shown import AsRecorded
from logger.words.values import value_text
from logger.words.verdicts import rule_text

MOST_MISSED, MOST_CLOSE, MOST_PIECES, MOST_NOTES, MOST_SOURCES = 5, 3, 12, 4, 6
MOST_SHOTS = 9
"""No more rows than these on a page."""
_ROOM = 0.1
"""Left free at both ends of a small picture, share of its width."""
_DWELL = "set.dwell_s"
_STAGE_LETTERS = 26
"""Room for the name of a stage beside a check."""
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:[gsh%K]|mm|min|°[CF]|g/min)(?:[ .,;]|$))")


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many checks stand one way."""

    number: int
    word: str
    look: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A check not met: dots on a target, shares of the width of its picture."""

    label: str
    stage: str
    value: str
    spread: str
    target: str
    dots: list[float]
    spread_from: float
    spread_to: float
    box_from: float
    box_to: float
    low: bool
    high: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A piece in the bath: its dwell on the target, shares of the width of its picture."""

    piece: str
    share: float
    box_from: float
    box_to: float
    has_target: bool
    look: str
    dwell: str
    coat: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """How a piece came out, and its bare mass."""

    piece: str
    defects: str
    mass: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A photo, as a drawing that holds it: the template takes text alone."""

    title: str
    picture: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All that the template asks for; every text is shown as it is."""

    name: str
    about: str
    run: str
    outcome: str
    rejected: bool
    headline: str
    lead: str
    next_time: str
    counts: list[Count]
    checks: str
    picture: str
    picture_says: str
    missed: list[Row]
    more_missed: str
    close: str
    bars: list[Bar]
    bars_target: str
    more_bars: str
    came: list[Came]
    measured: list[str]
    recipe: list[Phase]
    steps: list[Step]
    planned: str
    vessels: list[str]
    cautions: list[str]
    notes: list[str]
    origin: list[str]
    data: str
    photos: list[Shot]
    more_photos: str


def page_of(content: ReportContent) -> Page:
    """Return what the pages say."""
    said, findings = content.said(), content.results.findings
    count = counted(findings)
    missed = groups(findings, "not met")
    left = len(missed) - MOST_MISSED
    bars, target, more = _bars(content)
    names = ", ".join(channel.label for channel in content.channels)
    planned_s = [stage.planned_s for stage in content.sheet.stage if stage.planned_s is not None]
    return Page(
        name=content.sheet.sheet.name,
        about=_about(content),
        run=content.run_id,
        outcome=capital(came_out(content.outcome, content.defects)),
        rejected=content.outcome == "rejected",
        headline=_unbroken(said.headline),
        lead=_unbroken(said.lead),
        next_time=said.next_time,
        counts=[
            Count(number=number, word=STANDINGS[name][1], look=STANDINGS[name][0])
            for name, number in count.items()
        ],
        checks=count_text(len(findings), "check"),
        picture=traces_svg(content.picture(), masses=False),
        picture_says=f"Traces over time: {names or 'no readings'}",
        missed=[_row(content, group) for group in missed[:MOST_MISSED]],
        more_missed=f"{left} more not met." if left > 0 else "",
        close=_close(findings) if missed else "",
        bars=bars,
        bars_target=target,
        more_bars=more,
        came=came_of(content, MOST_PIECES),
        measured=measured_of(content),
        recipe=recipe(content),
        steps=steps(content),
        planned=f"{clock(sum(planned_s))} planned" if planned_s else "",
        vessels=vessels(content),
        cautions=list(content.cautions),
        notes=_notes(content),
        origin=_origin(content),
        data=content.data_sha256,
        photos=_shots(content),
        more_photos=_more_photos(len(content.photos)),
    )


def _shots(content: ReportContent) -> list[Shot]:
    return [
        Shot(
            title=one.title,
            picture=f'<svg xmlns="http://www.w3.org/2000/svg" width="{one.width}" height='
            f'"{one.height}"><image width="{one.width}" height="{one.height}" '
            f'href="{one.address}"/></svg>',
        )
        for one in content.photos[:MOST_SHOTS]
    ]


def _more_photos(number: int) -> str:
    left = number - MOST_SHOTS
    return f"{count_text(left, 'more photo')} on the run's page" if left > 0 else ""


def _unbroken(text: str) -> str:
    """Return a text in which no line breaks before a unit."""
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", text)


def _about(content: ReportContent) -> str:
    parts = [moment_text(content.started)]
    parts.append(duration_text(content.duration_s) if content.duration_s else "unknown length")
    if content.start.size:
        parts.append(content.start.size)
    if content.start.operator:
        parts.append(content.start.operator)
    return f"revision {content.sheet.sheet.revision} · {' · '.join(parts)}"


def _row(content: ReportContent, group: Group) -> Row:
    first, numbers = group.first, AsRecorded()
    values = [f.value for f in group.findings if f.value is not None]
    wide = max((f.expanded_uncertainty or 0.0 for f in group.findings), default=0.0)
    low, high = first.low, first.high
    reach = [v + s for v in values for s in (-wide, wide)]
    reach += [end for end in (low, high) if end is not None]
    at = _shares(reach)
    rows = {row.id: names_of(row) for row in content.results.stages}
    names = rows.get(first.stage, [first.stage])
    return Row(
        label=group.label,
        stage=next((n for n in names if len(n) <= _STAGE_LETTERS), names[-1]),
        value=group.value_text(numbers),
        spread=group.spread_text(numbers),
        target=group.target_text(numbers),
        dots=[at(v) for v in values],
        spread_from=at(min(values) - wide) if values else 0.0,
        spread_to=at(max(values) + wide) if values else 0.0,
        box_from=0.0 if low is None else at(low),
        box_to=1.0 if high is None else at(high),
        low=low is not None,
        high=high is not None,
    )


class _Shares:
    """Where values [one unit] lie in a picture, as a share of its width."""

    def __init__(self, left: float, width: float) -> None:
        self._left, self._width = left, width

    def __call__(self, value: float) -> float:
        """Return the share of the width [1] at which a value [its unit] lies."""
        return round(min(max((value - self._left) / self._width, 0.0), 1.0), 4)


def _shares(reach: Sequence[float]) -> _Shares:
    low, high = min(reach, default=0.0), max(reach, default=1.0)
    width = (high - low) or 1.0
    return _Shares(low - _ROOM * width, (1.0 + 2.0 * _ROOM) * width)


def _close(findings: Sequence[Finding]) -> str:
    """Say which checks are too close to call; the headline does where nothing was missed."""
    found, numbers = groups(findings, "too close"), AsRecorded()
    said = [
        f"{g.label}: {g.value_text(numbers)} {g.spread_text(numbers) or '(uncertainty unknown)'}, "
        f"target {g.target_text(numbers)}"
        for g in found[:MOST_CLOSE]
    ]
    if len(found) > MOST_CLOSE:
        said.append(f"{len(found) - MOST_CLOSE} more")
    return _unbroken("; ".join(said))


def _bars(content: ReportContent) -> tuple[list[Bar], str, str]:
    """Return the pieces in the bath, their target, and how many are left out."""
    results = content.results
    judged = {f.piece: f for f in results.findings if f.key == _DWELL and f.piece is not None}
    coats = {p.piece: p.coat_mm for p in results.pieces}
    ends = [end for f in judged.values() for end in (f.low, f.high) if end is not None]
    dwells = [row.dwell_s for row in results.immersions if row.dwell_s is not None]
    end_s = 1.06 * max([*ends, *dwells, 1.0])
    found = []
    for row in results.immersions[:MOST_PIECES]:
        one = judged.get(row.piece or 0)
        low, high = (None, None) if one is None else (one.low, one.high)
        verdict = row.verdict if one is None else one.verdict
        others = f" or {', '.join(clock(c) for c in row.candidates)}" if row.candidates else ""
        still = " still in" if row.inside else ""
        coat_mm = coats.get(row.piece or 0)
        found.append(
            Bar(
                piece=str(row.piece or "?"),
                share=round((row.dwell_s or 0.0) / end_s, 4),
                box_from=round((low or 0.0) / end_s, 4),
                box_to=1.0 if high is None else round(high / end_s, 4),
                has_target=low is not None or high is not None,
                look={"not met": "stop", "undecided": "warn"}.get(verdict, "good"),
                dwell=f"{clock_or_between(row.dwell_s, row.dwell_between_s)}{others}{still}",
                coat="" if coat_mm is None else value_text(coat_mm, "mm"),
            )
        )
    first = next(iter(judged.values()), None)
    target = "" if first is None else AsRecorded().band(first.low, first.high, "s")
    left = len(results.immersions) - len(found)
    return found, target, f"{count_text(left, 'piece')} more." if left else ""


def came_of(content: ReportContent, most: int | None = None) -> list[Came]:
    """Return how the pieces came out, those that something is known of.

    Parameters
    ----------
    content : ReportContent
        Of the run.
    most : int or None
        No more than so many.
    """
    masses = {p.piece: p.bare_mass_g for p in content.results.pieces}
    pieces = sorted({*masses, *content.piece_defects})
    return [
        Came(
            piece=str(piece),
            defects=", ".join(content.piece_defects.get(piece, ())) or "none noted",
            mass=value_text(mass, "g") if (mass := masses.get(piece)) is not None else DASH,
        )
        for piece in pieces[:most]
    ]


def measured_of(content: ReportContent) -> list[str]:
    """Return the results that the sheet declares, which were not measured, and the cause that
    somebody found."""
    known = {row.name for row in content.measured}
    missing = [r.name for r in content.sheet.result if r.name not in known]
    said = [capital(result_text(row)) for row in content.measured]
    said += [f"Not measured: {', '.join(missing)}"] if missing else []
    return said + ([f"Cause that was found: {content.because}"] if content.because else [])


def _notes(content: ReportContent) -> list[str]:
    said = [f"{clock(note.t_s)} {note.text}" for note in content.notes[:MOST_NOTES]]
    left = len(content.notes) - len(said)
    return said + ([f"{count_text(left, 'note')} more."] if left else [])


def _origin(content: ReportContent) -> list[str]:
    head, results = content.sheet.sheet, content.results
    good = sum(row.check == "good" for row in results.sensors)
    said = [f"{count_text(good, 'sensor')} checked and in date."] if good else []
    said += sentences(results.sensors)
    said += lagless.sentences(results.derived)
    gaps = len(results.gaps)
    if gaps:
        said.append(f"{count_text(gaps, 'gap')} in the readings.")
    sources = sorted({f.source for f in results.findings} - {"sheet", ""})
    if sources:
        left = len(sources) - MOST_SOURCES
        named = [*sources[:MOST_SOURCES], *([f"{left} more"] if left > 0 else [])]
        said.append(f"Limits not from the sheet: {'; '.join(named)}.")
    said.append(f"Decision rule {rule_text(head.decision_rule)}.")
    said.append("± is expanded, k = 2 (JCGM 100:2008).")
    made = moment_text(content.made)
    said.append(f"Report made {made} by bainlog {content.version}.")
    said.append(NOTICE)
    return said

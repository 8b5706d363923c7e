"""What goes into a report of a run: gathered once, then written as a page or on paper.

Pure; the view of the run file is handed in. Used by the command line and the screen.
"""

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from logger.model.finding import Results
from logger.model.history import all_notes, piece_defects, said_because, said_results, started_with
from logger.model.photos.row import photo_title, photos_said
from logger.model.rows import NoteRow, ResultRow, StartRow
from logger.model.sheet import Sheet
from logger.review.features.facts import ReviewedRun
from logger.review.headline import Said, said_of, standing
from logger.review.papers.fingerprint import fingerprint
from logger.review.papers.picture import Drawn, Picture
from logger.review.plan.plan import plan
from logger.review.targets import targets_of
from logger.review.trace import corrected
from logger.review.why.explanation import Explanation
from logger.science.fats.fats import Fat
from logger.words.shown import AsRecorded


class PicturedRun(ReviewedRun, Protocol):
    """The part of a run file's view that a report needs."""

    def photo(self, sha256: str) -> bytes | None:
        """Return a picture by its digest; None where there is none, or it is damaged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo of the run, as it is shown.

    Attributes
    ----------
    title : str
        What it shows.
    width, height : int
        Of the picture [px].
    picture : bytes
        JPEG.
    """

    title: str
    width: int
    height: int
    picture: bytes

    @property
    def address(self) -> str:
        """The picture as an address with all of it inside."""
        return f"data:image/jpeg;base64,{base64.b64encode(self.picture).decode()}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportContent:
    """What goes into a report.

    Attributes
    ----------
    run_id, started : str
        Which run it is, and when it began, as a person reads it.
    duration_s : float or None
        Length of the run [s].
    outcome : str or None
        ``accepted``, ``rejected``, or None where nobody has said.
    defects : sequence of str
        In the words of the sheet.
    results : Results
        What was found.
    notes : sequence of NoteRow
        All of them, also those added when the run was over.
    sheet : Sheet
        Frozen sheet of the run.
    explanation : Explanation or None
        Why it came out as it did.
    channels : sequence of Drawn
        Corrected traces.
    cautions : sequence of str
        For the stages that need them.
    start : StartRow
        What was said when the batch was started.
    piece_defects : mapping of int to sequence of str
        Defects of single pieces.
    measured : sequence of ResultRow
        Results that the sheet declares.
    because : str
        Cause that somebody found, in words; empty where nobody said.
    photos : sequence of Photo
        Those that are whole.
    version, data_sha256, made : str
        Version of the tool, fingerprint of the run, and when the report was made.
    """

    run_id: str
    started: str
    duration_s: float | None
    outcome: str | None
    defects: Sequence[str]
    results: Results
    notes: Sequence[NoteRow]
    sheet: Sheet
    explanation: Explanation | None
    channels: Sequence[Drawn]
    cautions: Sequence[str] = field(default_factory=tuple)
    start: StartRow = field(default_factory=StartRow)
    piece_defects: Mapping[int, Sequence[str]] = field(default_factory=dict)
    measured: Sequence[ResultRow] = field(default_factory=tuple)
    because: str = ""
    photos: Sequence[Photo] = field(default_factory=tuple)
    version: str
    data_sha256: str
    made: str

    def said(self) -> Said:
        """Return what the run came to, in the words of its page."""
        return said_of(self.results.findings, self.outcome, self.explanation, AsRecorded())

    def picture(self) -> Picture:
        """Return what is drawn of the run."""
        found = self.results
        return Picture(
            channels=self.channels,
            stages=found.stages,
            missed=frozenset(f.stage for f in found.findings if standing(f) == "not met"),
            targets=targets_of(found.findings, found.stages),
            pours_s=[pour.start_s for pour in found.pours[:1]],
            gaps=found.gaps,
        )


def report_content(
    run: PicturedRun,
    results: Results,
    explanation: Explanation | None,
    fats: Mapping[str, Fat],
    causes: Mapping[str, str],
    *,
    started: str,
    duration_s: float | None,
    version: str,
    made: str,
) -> ReportContent:
    """Gather what goes into the report of a run.

    Parameters
    ----------
    run : ReviewedRun
        View of the run file.
    results : Results
        What the engine found.
    explanation : Explanation or None
        Why it came out as it did.
    fats : mapping
        Fats by key, for the cautions of the plan.
    causes : mapping
        Causes in words, by id.
    started, made : str
        When the run began and when the report is made, as a person reads it.
    duration_s : float or None
        Length of the run [s].
    version : str
        Of bainlog.
    """
    sheet, bench, said = run.sheet(), run.bench(), run.outcome()
    cause = said_because(run.events())
    channels = []
    for channel in bench.channel:
        trace = corrected(run, channel.id)
        channels.append(
            Drawn(
                id=channel.id,
                role=channel.role,
                label=channel.name,
                unit=channel.unit,
                t_s=trace.t_ns / 1e9,
                value=trace.value,
                without_lag=run.without_lag(channel.id),
            )
        )
    return ReportContent(
        run_id=run.header.run_id,
        started=started,
        duration_s=duration_s,
        outcome=said.outcome,
        defects=said.defects,
        results=results,
        notes=all_notes(results.notes, run.events()),
        sheet=sheet,
        explanation=explanation,
        channels=channels,
        start=started_with(run.events()),
        piece_defects=piece_defects(run.events()),
        measured=said_results(run.events()),
        because=causes.get(cause, cause),
        photos=[
            Photo(title=photo_title(one), width=one.width, height=one.height, picture=picture)
            for one in photos_said(run.events())
            if (picture := run.photo(one.sha256)) is not None
        ],
        cautions=plan(sheet, bench, fats).cautions,
        version=version,
        data_sha256=fingerprint(run),
        made=made,
    )

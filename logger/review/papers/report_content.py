"""What goes into a report of a run: gathered once, then written as a page or on paper.

Pure; the view of the run file is handed in. Used by the command line and the screen.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from logger.model.finding import Results
from logger.model.notes import all_notes
from logger.model.plainly import results_as_json
from logger.model.sheet import Sheet
from logger.review.features.facts import ReviewedRun
from logger.review.papers.figures import Drawn
from logger.review.papers.fingerprint import fingerprint
from logger.review.plan.plan import plan
from logger.review.trace import corrected
from logger.review.why.explanation import Explanation
from logger.science.fats.fats import Fat


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportContent:
    """What goes into a report.

    Attributes
    ----------
    shown : mapping
        ``run`` (its id, sheet, start, length, outcome, defects) and the tables of its results.
    sheet : Sheet
        Frozen sheet of the run.
    explanation : Explanation or None
        Why it came out as it did.
    channels : sequence of Drawn
        Corrected traces.
    cautions : sequence of str
        For the stages that need them.
    version, data_sha256, made : str
        Version of the tool, fingerprint of the run, and when the report was made.
    """

    shown: Mapping[str, Any]
    sheet: Sheet
    explanation: Explanation | None
    channels: Sequence[Drawn]
    cautions: Sequence[str] = field(default_factory=tuple)
    version: str
    data_sha256: str
    made: str


def report_content(
    run: ReviewedRun,
    results: Results,
    explanation: Explanation | None,
    fats: Mapping[str, Fat],
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
    started, made : str
        When the run began and when the report is made, as a person reads it.
    duration_s : float or None
        Length of the run [s].
    version : str
        Of bainlog.
    """
    sheet, bench, said = run.sheet(), run.bench(), run.outcome()
    channels = []
    for channel in bench.channel:
        trace = corrected(run, channel.id)
        channels.append(
            Drawn(
                label=channel.name, unit=channel.unit, t_s=trace.t_ns / 1e9, value=trace.value,
                without_lag=run.without_lag(channel.id),
            )
        )  # fmt: skip
    return ReportContent(
        shown={
            "run": {
                "id": run.header.run_id, "sheet": sheet.sheet.name,
                "revision": sheet.sheet.revision, "started": started, "duration_s": duration_s,
                "outcome": said.outcome, "defects": list(said.defects),
            },
            **results_as_json(results),
            "notes": all_notes(results.notes, run.events()),
        },
        sheet=sheet,
        explanation=explanation,
        channels=channels,
        cautions=plan(sheet, bench, fats).cautions,
        version=version,
        data_sha256=fingerprint(run),
        made=made,
    )  # fmt: skip

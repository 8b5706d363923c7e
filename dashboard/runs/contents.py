"""What the page of one run draws: the figure and pieces of it, its traces in words, its tables.

Reads the run file in one look, computes nothing; ``one`` puts it on the page.
"""

import base64
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from dash import html
from numpy.typing import NDArray

from dashboard.graphs import Figure
from dashboard.links import Links
from dashboard.live.drawing import canvas
from dashboard.measures import Measures, in_units
from dashboard.runs import lanes, ribbon, tables
from dashboard.runs.bars import draw_pieces
from dashboard.runs.lanes import Line
from dashboard.runs.told import Told, draw_told
from dashboard.runs.window import Drawn, beside, window
from dashboard.stores import Choices
from logger.model.errors import BainlogError, InputError
from logger.model.finding import Results
from logger.model.history import piece_defects, said_because, said_results
from logger.model.rows import NoteRow, StageRow
from logger.review.trace import tares_of
from logger.store.folder.entries import RunEntry, describe
from logger.store.run.view import RunView
from logger.words.durations import exact_duration

EXACT_SAYS = "Every reading of this window is drawn."
BOTH = "both"
SHOWS = {"temps": "Temperatures", "scales": "Scales", BOTH: "Both"}
"""What the graph can show, by name."""
LONGEST_S = 1e9
"""No run is as long."""
SAMPLED_SAYS = "Sampled: the lowest and highest of each stretch. Zoom in to see every reading."


def span_of(ends: Mapping[str, str]) -> tuple[float | None, float | None]:
    """Return the window [s] between two places on the axis, ``from`` and ``to``; open without them.

    Raises
    ------
    InputError
        When they are not two places in order.
    """
    if "from" not in ends and "to" not in ends:
        return None, None
    try:
        low, high = (canvas.run_time_s(ends[end]) for end in ("from", "to"))
    except (KeyError, ValueError):
        raise InputError("window", repr(dict(ends)), "give from and to") from None
    if not -LONGEST_S < low < high < LONGEST_S:
        raise InputError(
            "window", f"{exact_duration(low)} to {exact_duration(high)}", "from must be before to"
        )
    return low, high


def lines_of(view: RunView) -> list[Line]:
    """Return the run's channels as lines of the figure."""
    return [Line(id=c.id, role=c.role, label=c.name, unit=c.unit) for c in view.bench().channel]


def _all_lines(view: RunView) -> list[Line]:
    """Return the channels, then what is kept beside their readings, as lines of the figure."""
    lines = lines_of(view)
    results = view.results()
    kept = {row.channel for row in results.derived} if results is not None else set()
    return lines + [
        replace(
            line, id=f"{line.id} without lag", label=f"{line.label}, lag removed", beside=line.id
        )
        for line in lines
        if line.id in kept
    ]


def shown_of(lines: list[Line], show: str) -> list[Line]:
    """Return the lines that are asked for; all where there are none of that sort."""
    if show == BOTH:
        return lines
    return [line for line in lines if (line.unit == "g") == (show == "scales")] or lines


def _pieces(
    view: RunView, lines: list[Line], span: tuple[float | None, float | None] = (None, None)
) -> dict[str, Drawn]:
    """Return what is drawn of each line in a window, by its id."""
    tares = tares_of(view)
    return {
        line.id: window(view, line.id, *span, tares)
        if line.beside is None
        else beside(view, line.beside, *span)
        for line in lines
    }


def draw_whole(
    links: Links, run_id: str, choices: Choices, *, narrow: bool = False, show: str = BOTH
) -> tuple[Figure, str]:
    """Return the figure of the whole run, and whether every reading is drawn.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run_id : str
        The run.
    choices : Choices
        What the person chose to see.
    narrow : bool
        For a phone.
    show : str
        Which lines: a key of `SHOWS`.
    """
    with links.look_closer(run_id) as view:
        lines = shown_of(_all_lines(view), show)
        drawn = _pieces(view, lines)
        made = lanes.figure(
            lines,
            drawn,
            ribbon.behind(view.results(), stages_of(view)),
            view.duration_ns / 1e9,
            choices.theme,
            choices.measures,
            narrow=narrow,
        )
    return made, exactness(drawn)


@dataclass(frozen=True, slots=True, kw_only=True)
class Below:
    """What lies below the traces: checks by stage, pieces, notes and tables."""

    findings: Any
    pieces: Any
    tables: list[Any]


def draw_words(
    links: Links, run_id: str, measures: Measures, causes: Mapping[str, str]
) -> tuple[list[Any], Below]:
    """Return the traces of the whole run in words, and what lies below them.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run_id : str
        The run.
    measures : Measures
        How numbers are written.
    causes : mapping
        Causes in words, by id.
    """
    with links.look_closer(run_id) as view:
        lines = lines_of(view)
        drawn = _pieces(view, lines)
        told = [Told(c.label, drawn[c.id].points, c.unit) for c in lines]
        words = draw_told(told, measures, title="The traces at round times")
        return words, below(view, measures, causes)


def entry_of(links: Links, view: RunView, run_id: str) -> RunEntry:
    """Return the entry of a run, as the list has it: the whole file is looked at once it is drawn.

    Parameters
    ----------
    links : Links
        The way to the list.
    view : RunView
        The run, where the list has it no longer.
    run_id : str
        Its id.
    """
    kept = links.catalog().kept(run_id)
    return describe(view, run_id) if kept is None or kept.status == "unreadable" else kept


def results_of(view: RunView) -> tuple[Results | None, tuple[str, ...]]:
    """Return what was found, or why this edition can't read it."""
    try:
        return view.results(), ()
    except BainlogError as cause:
        return None, (str(cause),)


def stages_of(view: RunView) -> list[StageRow]:
    """Return the stages of a run with the titles of its sheet."""
    results = view.results()
    titles = {stage.id: stage.title for stage in view.sheet().stage}
    return [
        replace(stage, title=titles.get(stage.id) or stage.id)
        for stage in (results.stages if results is not None else [])
    ]


def below(view: RunView, measures: Measures, causes: Mapping[str, str]) -> Below:
    """Return what lies below the traces of a run; what was not judged has only what was said.

    Parameters
    ----------
    view : RunView
        The run.
    measures : Measures
        How numbers are written.
    causes : mapping
        Causes in words, by id.
    """
    events, results = view.events(), view.results()
    notes = [NoteRow(t_s=e.t_ns / 1e9, text=e.text) for e in events if e.kind == "note"]
    cause = said_because(events)
    said = [
        *tables.draw_measured(said_results(events), causes.get(cause, cause)),
        tables.draw_pieces_came(piece_defects(events)),
        *tables.draw_notes(notes),
    ]
    if results is None:
        return Below(findings=None, pieces=None, tables=said)
    return Below(
        findings=in_units(
            tables.draw_findings(results.findings, stages_of(view), measures), measures
        ),
        pieces=in_units(draw_pieces(results, measures), measures),
        tables=[*said, _folded(results, measures)],
    )


def _folded(results: Results, measures: Measures) -> html.Details | None:
    rest = [
        tables.draw_dwells(results.immersions),
        tables.draw_pours(results.pours, measures),
        in_units(tables.draw_alarms(results.alarms), measures),
        tables.draw_gaps(results.gaps),
    ]
    there = [table for table in rest if table is not None]
    if not there:
        return None
    summary = html.Summary("Dwells, pours, alarms and gaps")
    return html.Details([summary, *there], className="more-of")


@dataclass(frozen=True, slots=True, kw_only=True)
class Closer:
    """What changes in the figure for a window, as it is sent to the page.

    Attributes
    ----------
    lines : list of dict
        For each line of the figure its x and y, in the packed form that plotly reads.
    notes : list of dict
        Names of the stages and titles of the lanes.
    says : str
        Whether every reading is drawn.
    """

    lines: list[dict[str, dict[str, str]]]
    notes: list[Figure]
    says: str


def draw_window(
    links: Links,
    run_id: str,
    span: tuple[float | None, float | None],
    choices: Choices,
    *,
    narrow: bool = False,
    show: str = BOTH,
) -> Closer:
    """Return what changes in the figure for a window.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run_id : str
        The run.
    span : tuple
        Window [s]; None is open.
    choices : Choices
        What the person chose to see.
    narrow : bool
        For a phone.
    show : str
        Which lines: a key of `SHOWS`.
    """
    measures = choices.measures
    with links.look_closer(run_id) as view:
        lines = shown_of(_all_lines(view), show)
        drawn = _pieces(view, lines, span)
        about = ribbon.behind(view.results(), stages_of(view))
        end_s = view.duration_ns / 1e9
    shown = [0.0 if span[0] is None else span[0], end_s if span[1] is None else span[1]]
    return Closer(
        lines=[
            {axis: packed(v) for axis, v in lanes.data_of(c, drawn[c.id], measures).items()}
            for c in lines
        ],
        notes=lanes.notes(lines, about, shown, choices.theme, measures, narrow=narrow),
        says=exactness(drawn),
    )


def packed(values: NDArray[Any]) -> dict[str, str]:
    """Return a vector in the form that plotly reads.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Floats [as drawn].

    Returns
    -------
    dict
        Its type, and its bytes in base 64.
    """
    little = values.astype(values.dtype.newbyteorder("<"))
    return {"dtype": little.dtype.str[1:], "bdata": base64.b64encode(little.tobytes()).decode()}


def exactness(drawn: dict[str, Drawn]) -> str:
    """Say whether every reading of a window is drawn."""
    return EXACT_SAYS if all(d.exact for d in drawn.values()) else SAMPLED_SAYS

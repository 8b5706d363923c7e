"""What the page of one run draws: the figure and pieces of it, its traces in words, its tables.

Reads the run file in one look, computes nothing; ``one`` puts it on the page.
"""

import base64
from collections.abc import Mapping
from typing import Any

from dash import html
from numpy.typing import NDArray

from dashboard.links import Links
from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import Theme
from dashboard.runs import lanes, tables
from dashboard.runs.told import Told, draw_told
from dashboard.runs.window import Drawn, beside, window
from logger.model.errors import InputError

EXACT_SAYS = "Every reading of this window is drawn."
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
        raise InputError("window", f"{low:g} s to {high:g} s", "from must lie before to")
    return low, high


def channels_of(view: Any) -> list[dict[str, Any]]:
    """Return the run's channels as the figure needs them."""
    return [
        {"id": c.id, "role": c.role, "label": c.name, "unit": c.unit} for c in view.bench().channel
    ]


def _lines_of(view: Any) -> list[dict[str, Any]]:
    """Return the channels, then what is kept beside their readings, as lines of the figure."""
    channels = channels_of(view)
    results = view.results()
    kept = {row["channel"] for row in results.derived} if results is not None else set()
    return channels + [
        {**c, "id": f"{c['id']} without lag", "label": f"{c['label']}, lag taken off",
         "beside": c["id"]}
        for c in channels
        if c["id"] in kept
    ]  # fmt: skip


def _piece(
    view: Any, channel: dict[str, Any], span: tuple[float | None, float | None] = (None, None)
) -> Drawn:
    of = channel.get("beside")
    return window(view, channel["id"], *span) if of is None else beside(view, of, *span)


def draw_whole(
    links: Links, run_id: str, choices: dict[str, Any], *, narrow: bool = False
) -> tuple[dict[str, Any], str]:
    """Return the figure of the whole run, and whether every reading is drawn."""
    theme: Theme = "light" if choices.get("theme") == "light" else "dark"
    with links.open_run(run_id) as view, view.together():
        channels = _lines_of(view)
        drawn = {c["id"]: _piece(view, c) for c in channels}
        made = lanes.figure(
            channels,
            drawn,
            _stages_of(view),
            view.duration_ns / 1e9,
            theme,
            Measures.of(choices),
            narrow=narrow,
        )
    return made, exactness(drawn)


def draw_words(links: Links, run_id: str, measures: Measures) -> tuple[list[Any], list[Any]]:
    """Return the traces of the whole run in words, and the tables."""
    with links.open_run(run_id) as view, view.together():
        told = [Told(str(c["label"]), _piece(view, c).points, c["unit"]) for c in channels_of(view)]
        words = draw_told(told, measures, title="The traces at round times")
        return words, tables_of(view, measures)


def _stages_of(view: Any) -> list[dict[str, Any]]:
    """Return the stages of a run with the titles of its sheet."""
    results = view.results()
    titles = {stage.id: stage.title for stage in view.sheet().stage}
    return [
        {**stage, "title": titles.get(stage["id"]) or stage["id"]}
        for stage in (results.stages if results else [])
    ]


def tables_of(view: Any, measures: Measures) -> list[Any]:
    """Return the tables of a run: findings, dwells, pours, alarms, gaps, notes."""
    notes = [{"t_s": e.t_ns / 1e9, "text": e.text} for e in view.events() if e.kind == "note"]
    return draw_tables(view.results(), _stages_of(view), notes, measures)


def draw_tables(
    results: Any, stages: list[dict[str, Any]], notes: list[dict[str, Any]], measures: Measures
) -> list[Any]:
    """Return the tables; a run without results says why."""
    if results is None:
        return [
            html.P("This run was not ended, so nothing is judged yet. It is judged when it ends; "
                   "a run that was cut off can be judged with: bainlog show"),
            tables.draw_notes(notes),
        ]  # fmt: skip
    findings = tables.draw_findings(results.findings, stages, measures)
    return [
        html.H2("Findings"),
        *(findings if isinstance(findings, list) else [findings]),
        tables.draw_dwells(results.immersions),
        tables.draw_pours(results.pours, measures),
        tables.draw_alarms(results.alarms),
        tables.draw_gaps(results.gaps),
        tables.draw_notes(notes),
    ]


def draw_window(
    links: Links, run_id: str, span: tuple[float | None, float | None], look: Mapping[str, Any]
) -> dict[str, Any]:
    """Return what changes in the figure for a window, as it is sent to the page.

    Parameters
    ----------
    span : tuple
        Window [s]; None is open.
    look : mapping
        What the person chose (``theme``, ``temp``, ``mass``), and ``narrow`` for a phone.

    Returns
    -------
    dict
        ``{"lines", "notes", "says"}``; for each line of the figure ``{"x", "y"}``, in the packed
        form that plotly reads.
    """
    theme: Theme = "light" if look.get("theme") == "light" else "dark"
    measures = Measures.of(look)
    with links.open_run(run_id) as view, view.together():
        channels = _lines_of(view)
        drawn = {c["id"]: _piece(view, c, span) for c in channels}
        stages = _stages_of(view)
        end_s = view.duration_ns / 1e9
    shown = [0.0 if span[0] is None else span[0], end_s if span[1] is None else span[1]]
    return {
        "lines": [
            {axis: packed(v) for axis, v in lanes.data_of(c, drawn[c["id"]], measures).items()}
            for c in channels
        ],
        "notes": lanes.notes(
            channels, stages, shown, theme, measures, narrow=look.get("narrow") == "true"
        ),
        "says": exactness(drawn),
    }


def packed(values: NDArray[Any]) -> dict[str, str]:
    """Return a vector of floats in the form that plotly reads: its type, its bytes in base 64."""
    little = values.astype(values.dtype.newbyteorder("<"))
    return {"dtype": little.dtype.str[1:], "bdata": base64.b64encode(little.tobytes()).decode()}


def exactness(drawn: dict[str, Drawn]) -> str:
    """Say whether every reading of a window is drawn."""
    return EXACT_SAYS if all(d.exact for d in drawn.values()) else SAMPLED_SAYS

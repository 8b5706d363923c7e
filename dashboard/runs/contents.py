"""What the page of one run draws: the figure and pieces of it, its traces in words, its tables.

Reads the run file in one look, computes nothing; ``one`` puts it on the page.
"""

from typing import Any

from dash import Patch, html

from dashboard.links import Links
from dashboard.live import canvas
from dashboard.measures import Measures
from dashboard.palette import Theme
from dashboard.runs import lanes, tables
from dashboard.runs.told import Told, draw_told
from dashboard.runs.window import Drawn, beside, window

EXACT_SAYS = "Every reading of this window is drawn."
SAMPLED_SAYS = "Sampled: the lowest and highest of each stretch. Zoom in to see every reading."


def span_of(moved: Any) -> tuple[float | None, float | None] | None:
    """Return the window [s] that a relayout message tells; None when it is not about time."""
    if not isinstance(moved, dict):
        return None
    if moved.get("xaxis.autorange"):
        return None, None
    try:
        ends = [moved[f"xaxis.range[{k}]"] for k in (0, 1)]
        low, high = (canvas.run_time_s(end) for end in ends)
    except (KeyError, ValueError, TypeError):
        return None
    return (low, high) if high > low else None


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
) -> tuple[Any, str, list[Any], list[Any]]:
    """Return the figure of the whole run, what it shows, its traces in words, and the tables."""
    theme: Theme = "light" if choices.get("theme") == "light" else "dark"
    measures = Measures.of(choices)
    with links.open_run(run_id) as view, view.together():
        channels = _lines_of(view)
        drawn = {c["id"]: _piece(view, c) for c in channels}
        stages = _stages_of(view)
        made = lanes.figure(
            channels, drawn, stages, view.duration_ns / 1e9, theme, measures, narrow=narrow
        )
        told = [
            Told(str(c["label"]), drawn[c["id"]].points, c["unit"])
            for c in channels
            if "beside" not in c
        ]
        words = draw_told(told, measures, title="The traces at round times")
        return made, exactness(drawn), words, tables_of(view, measures)


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
    links: Links, run_id: str, span: tuple[float | None, float | None], measures: Measures
) -> tuple[Patch, str]:
    """Return a patch of the figure for a window, and what it shows."""
    patch = Patch()
    with links.open_run(run_id) as view, view.together():
        channels = _lines_of(view)
        drawn = {c["id"]: _piece(view, c, span) for c in channels}
    for place, channel in enumerate(channels):
        for name, values in lanes.data_of(channel, drawn[channel["id"]], measures).items():
            patch["data"][place][name] = values
    return patch, exactness(drawn)


def exactness(drawn: dict[str, Drawn]) -> str:
    """Say whether every reading of a window is drawn."""
    return EXACT_SAYS if all(d.exact for d in drawn.values()) else SAMPLED_SAYS

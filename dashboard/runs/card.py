"""One line of the list of runs, with a small picture of its traces.

Pure: a catalog entry in, components out. The picture is an inline image; the line says in words
all that matters.
"""

from urllib.parse import quote

import dash_mantine_components as dmc
from dash import html

from dashboard.live.sentence import symbol
from dashboard.palette import Theme, trace_colour
from logger.store.folder.entries import RunEntry
from logger.words.durations import clock

WIDTH, HEIGHT = 220, 56
LEAST = 8.0
"""The height stands for at least so much [degC or g]: noise stays a flat line."""
CAME_OUT = {"accepted": ("good", "accepted"), "rejected": ("stop", "rejected")}
STATUS = {
    "recording": ("do", "being recorded"),
    "interrupted": ("warn", "interrupted"),
    "unreadable": ("stop", "cannot be read"),
}


def draw_card(entry: RunEntry, theme: Theme) -> html.Li:
    """Draw one run of the catalog."""
    look, word = came_out(entry)
    facts = [entry.started[:16].replace("T", " ")] if entry.started else []
    if entry.status != "unreadable":
        facts += [clock(entry.duration_ns / 1e9), *entry.fats, *said_of(entry)]
    return html.Li(
        className="run-card plate",
        children=[
            html.Div(
                [
                    html.H2(
                        html.A(
                            f"{entry.sheet or entry.run_id}",
                            href=f"/runs/{entry.run_id}",
                            className="run-link",
                        )
                    ),
                    html.P(
                        [
                            f"Revision {entry.revision} · " if entry.revision else "",
                            " · ".join(fact.replace("_", " ") for fact in facts),
                        ],
                        className="soft",
                    ),
                    html.P(entry.problem, className="run-note") if entry.problem else None,
                    html.P(entry.note, className="run-note"),
                    html.P("Its file is damaged in places.") if entry.damage else None,
                ],
                className="run-words",
            ),
            html.Div(
                [
                    html.P([symbol(look), html.Span(word)], className=f"run-out look-{look}"),
                    dmc.Checkbox(label="Compare", value=entry.run_id, size="lg")
                    if entry.status == "ended"
                    else None,
                ],
                className="run-pick",
            ),
            html.Img(
                src=small_picture(entry.trace(), theme),
                alt="",
                width=WIDTH,
                height=HEIGHT,
                className="run-picture",
            ),
        ],
    )


def said_of(entry: RunEntry) -> list[str]:
    """Return what was said of a batch when it was started: how much, and by whom."""
    return [*([entry.size] if entry.size else []), *([entry.operator] if entry.operator else [])]


def came_out(entry: RunEntry) -> tuple[str, str]:
    """Return (look, words) of how a run came out."""
    if entry.status in STATUS:
        return STATUS[entry.status]
    if entry.outcome is None or entry.outcome not in CAME_OUT:
        return "none", "not said yet"
    look, word = CAME_OUT[entry.outcome]
    return look, word + (": " + ", ".join(entry.defects) if entry.defects else "")


def small_picture(traces: dict[str, list[list[float | None]]], theme: Theme) -> str:
    """Return traces, [s] and a value, as an image address; each has the height for itself."""
    ends = [points[-1][0] for points in traces.values() if points]
    end_s = max((float(t) for t in ends if t is not None), default=0.0)
    lines = [
        f'<path d="{_path(points, end_s)}" fill="none" stroke="{trace_colour(channel, theme)}" '
        'stroke-width="1.8"/>'
        for channel, points in traces.items()
        if end_s > 0.0
    ]
    picture = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}">'
        f"{''.join(lines)}</svg>"
    )
    return "data:image/svg+xml," + quote(picture)


def _path(points: list[list[float | None]], end_s: float) -> str:
    values = [p[1] for p in points if p[1] is not None]
    if not values:
        return ""
    low, high = min(values), max(values)
    span = max(high - low, LEAST)
    low = (low + high - span) / 2.0
    parts: list[str] = []
    pen = "M"
    for t_s, value in points:
        if value is None or t_s is None:
            pen = "M"
            continue
        x = 2.0 + (WIDTH - 4.0) * t_s / end_s
        y = HEIGHT - 4.0 - (HEIGHT - 8.0) * (value - low) / span
        parts.append(f"{pen}{x:.1f} {y:.1f}")
        pen = "L"
    return "".join(parts)

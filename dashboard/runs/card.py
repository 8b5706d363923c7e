"""One line of the list of runs: when, its stages and traces in small, how it came out, what is new.

Pure: a catalog entry in, components out. The picture is an inline image; the line says in words
all that matters.
"""

from collections.abc import Sequence
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard.live.sentence import symbol
from dashboard.palette import GROUNDS, Ground, Theme, trace_colour
from logger.store.folder.entries import RunEntry
from logger.words.dates import day_text, time_text
from logger.words.durations import clock

WIDTH, HEIGHT, RIBBON = 190, 34, 5
LEAST = 8.0
"""The height stands for at least so much [degC or g]: noise stays a flat line."""
CAME_OUT = {"accepted": ("good", "accepted"), "rejected": ("stop", "rejected")}
STATUS = {
    "recording": ("do", "being recorded"),
    "interrupted": ("warn", "interrupted"),
    "unreadable": ("stop", "cannot be read"),
}


def draw_card(entry: RunEntry, theme: Theme, changed: str = "") -> html.Li:
    """Draw one run of the catalog.

    Parameters
    ----------
    entry : RunEntry
        The run.
    theme : str
        ``dark`` or ``light``.
    changed : str
        What is new since the run before.
    """
    ended = entry.status == "ended"
    when = day_text(entry.started) if entry.started else entry.run_id
    return html.Li(
        className="run-card",
        children=[
            dmc.Checkbox(
                value=entry.run_id,
                size="md",
                className="run-pick",
                attributes={"input": {"aria-label": f"Compare the run of {when}"}},
            )
            if ended
            else html.Span(className="run-pick"),
            html.P(
                [
                    html.A(when, href=f"/runs/{entry.run_id}", className="run-link"),
                    html.Span(f"{entry.started[:4]} {time_text(entry.started)}", className="soft"),
                ],
                className="run-when",
            ),
            html.Img(
                src=small_picture(entry, theme),
                alt="",
                width=WIDTH,
                height=HEIGHT,
                className="run-picture",
            ),
            html.P(_pills(entry), className="run-came"),
            html.Span(_missed(entry), className="run-missed" + (" bad" if entry.missed else "")),
            html.Span(
                "" if entry.status == "unreadable" else clock(entry.duration_ns / 1e9),
                className="run-length",
            ),
            html.P(_more(entry, changed), className="run-more soft"),
            _way(entry),
        ],
    )


def _pills(entry: RunEntry) -> list[html.Span]:
    look, word = came_out(entry)
    words = entry.defects if entry.outcome == "rejected" and entry.defects else (word,)
    return [
        html.Span([symbol(look), html.Span(one)], className=f"pill look-{look}") for one in words
    ]


def _missed(entry: RunEntry) -> str:
    if entry.missed is None:
        return ""
    return f"{entry.missed} not met" if entry.missed else "0"


def _more(entry: RunEntry, changed: str) -> str:
    damaged = "Its file is damaged in places." if entry.damage else ""
    said = (changed, *said_of(entry), entry.note, damaged, entry.problem)
    return " · ".join(text for text in said if text)


def _way(entry: RunEntry) -> dcc.Link | html.Span:
    if entry.outcome == "rejected":
        return dcc.Link("Why", href=f"/why/{entry.run_id}", className="run-way")
    if entry.outcome == "accepted":
        return dcc.Link("Repeat", href=f"/sheets?run={entry.run_id}", className="run-way")
    return html.Span(className="run-way")


def said_of(entry: RunEntry) -> list[str]:
    """Return what was said of a batch when it was started: how much, and by whom."""
    return [*([entry.size] if entry.size else []), *([entry.operator] if entry.operator else [])]


def came_out(entry: RunEntry) -> tuple[str, str]:
    """Return (look, words) of how a run came out."""
    if entry.status in STATUS:
        return STATUS[entry.status]
    if entry.outcome is None or entry.outcome not in CAME_OUT:
        return "none", "not judged yet"
    look, word = CAME_OUT[entry.outcome]
    return look, word + (": " + ", ".join(entry.defects) if entry.defects else "")


def changes(entry: RunEntry, before: RunEntry | None) -> str:
    """Say what is new in a run since the one before of the same product; empty for nothing."""
    if before is None:
        return ""
    lots = [lot for lot in entry.lots if lot not in before.lots]
    said = [f"new lot{'s' if len(lots) > 1 else ''} {', '.join(lots)}"] if lots else []
    if entry.revision != before.revision:
        said.append(f"revision {entry.revision}")
    if entry.sheet != before.sheet:
        said.append(entry.sheet)
    return " · ".join(said)


def small_picture(entry: RunEntry, theme: Theme) -> str:
    """Return the stages of a run as a ribbon, and its traces below, as an image address.

    A stage with a check that was not met is red. Each trace has the height for itself.
    """
    traces, ground = entry.trace(), GROUNDS[theme]
    ends = [points[-1][0] for points in traces.values() if points]
    end_s = max((float(t) for t in ends if t is not None), default=0.0)
    if end_s <= 0.0:
        return _image("")
    scale = (WIDTH - 2.0) / end_s
    ribbon = "".join(
        f'<rect x="{1 + from_s * scale:.0f}" width="{max((to_s - from_s) * scale - 1, 1):.0f}" '
        f'height="{RIBBON}" {_fill(ground, missed)}/>'
        for from_s, to_s, missed in entry.ribbon()
    )
    lines = "".join(
        f'<path d="{_path(points, scale)}" fill="none" stroke="{trace_colour(channel, theme)}" '
        'stroke-width="1.5"/>'
        for channel, points in traces.items()
    )
    return _image(ribbon + lines)


def _fill(ground: Ground, missed: bool) -> str:
    return f'fill="{ground.stop}"' if missed else f'fill="{ground.line}" opacity="0.35"'


def _image(drawn: str) -> str:
    picture = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}">{drawn}</svg>'
    )
    return "data:image/svg+xml," + quote(picture)


def _path(points: Sequence[Sequence[float | None]], scale: float) -> str:
    values = [p[1] for p in points if p[1] is not None]
    if not values:
        return ""
    low, high = min(values), max(values)
    span = max(high - low, LEAST)
    low = (low + high - span) / 2.0
    top = RIBBON + 3.0
    parts: list[str] = []
    pen = "M"
    for t_s, value in points:
        if value is None or t_s is None:
            pen = "M"
            continue
        y = HEIGHT - 2.0 - (HEIGHT - 2.0 - top) * (value - low) / span
        parts.append(f"{pen}{1.0 + scale * t_s:.0f} {y:.1f}")
        pen = "L"
    return "".join(parts)

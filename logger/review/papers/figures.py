"""Traces of a run drawn for paper and for the report: SVG text, sharp at any size.

Pure; corrected traces and stage rows in, text out: no request, no script, the same text for the
same run. Stages as a ribbon, targets as boxes, names at the ends of the lines; what a stage doesn't
use is pale; a gap stays a gap.
"""

import html
import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.model.kinds.registry import kind_named
from logger.model.rows import StageRow
from logger.review.papers.picture import Drawn, Picture
from logger.review.targets import names_of
from logger.words.digits import exact
from logger.words.durations import clock

_BINS = 350
_GAP_FACTOR, _GAP_S = 8.0, 5.0
COLOURS = {
    "fat": "#d55e00",
    "water": "#0072b2",
    "emulsion": "#a3447c",
    "bath": "#007d5b",
    "core": "#000000",
    "room": "#5f5648",
    "bowl_scale": "#a3447c",
    "bath_scale": "#007d5b",
    "bench_scale": "#000000",
    "other": "#000000",
}
"""By the role of a channel; the screen has them on a light ground, too."""
_DASHES = {"water": "6 3", "emulsion": "9 3 2 3", "bath": "2 3", "room": "1 3"}
INK, SOFT, LINE, STOP, ACCENT = "#1e1812", "#554838", "#c9bda8", "#a4260c", "#8b1545"
"""Colours of words, lines, a check not met and an event, on white."""
_TAN = "#e6dccb"
_WIDTH, _LEFT, _TOP, _FOOT = 720.0, 30.0, 22.0, 18.0
_HIGH, _LANE, _BETWEEN = 232.0, 48.0, 10.0
_FONT, _LETTER = 9.0, 4.9
"""Height of letters, and about how wide one is [units of the drawing]."""
_NAME_LETTERS, _LEAST_G = 22, 20.0
_STEPS = (1.0, 2.0, 5.0)
_TICKS_S = (10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lane:
    """A stretch of the drawing with an axis of its own: values [unit] to heights."""

    channels: Sequence[Drawn]
    top: float
    foot: float
    low: float
    high: float

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(self.foot - share * (self.foot - self.top), 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Across:
    """The time axis: seconds [s] to places from the left."""

    end_s: float
    right: float

    def x(self, t_s: float) -> float:
        return round(_LEFT + (self.right - _LEFT) * min(max(t_s / self.end_s, 0.0), 1.0), 1)


def traces_svg(picture: Picture, *, masses: bool = True) -> str:
    """Draw temperatures, and each scale in a lane of its own below.

    Parameters
    ----------
    picture : Picture
        What is drawn.
    masses : bool
        Whether scales are drawn beside temperatures; where there are only scales they always are.

    Returns
    -------
    str
        An SVG element.
    """
    shown = [c for c in picture.channels if bool(np.isfinite(c.value).any())]
    warm = [c for c in shown if c.unit == "degC"]
    scales = [c for c in shown if c.unit == "g"] if masses or not warm else []
    if not warm and not scales:
        return _whole(['<text x="360" y="30" text-anchor="middle">no readings</text>'], 50.0)
    lanes = _lanes(warm, scales, picture)
    letters = max((len(line) for c in (*warm, *scales) for line in _name(c)), default=0)
    ends = [s.end_s for s in picture.stages if s.end_s is not None]
    last_s = max([float(c.t_s[-1]) for c in (*warm, *scales) if c.t_s.size] + ends, default=1.0)
    across = _Across(end_s=max(last_s, 1.0), right=_WIDTH - 10.0 - _LETTER * letters)
    foot = lanes[-1].foot
    parts = list(_behind(picture, across, foot))
    for lane in lanes:
        parts += _grid(lane, across)
        if lane.channels and lane.channels[0].unit == "degC":
            parts += _boxes(picture, lane, across)
        for channel in lane.channels:
            parts += _line(channel, lane, across, picture.stages)
        parts += _names(lane, across)
    parts += [*_time(picture, across, foot), *_pours(picture, across, foot)]
    return _whole(parts, foot + _FOOT)


def _whole(parts: Sequence[str], height: float) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {height:g}" '
        f'width="{_WIDTH:g}" height="{height:g}" font-size="{_FONT:g}" fill="{INK}" '
        f'font-family="Libertinus Serif, system-ui, sans-serif">{"".join(parts)}</svg>'
    )


def _lanes(warm: Sequence[Drawn], scales: Sequence[Drawn], picture: Picture) -> list[_Lane]:
    lanes, top = [], _TOP
    if warm:
        edges = [e for t in picture.targets for e in (t.low, t.high) if e is not None]
        low, high = _reach(warm, edges, 5.0)
        lanes.append(_Lane(channels=warm, top=top, foot=top + _HIGH, low=low, high=high))
        top += _HIGH + _BETWEEN
    for scale in scales:
        low, high = _reach([scale], [], _LEAST_G)
        lanes.append(_Lane(channels=[scale], top=top, foot=top + _LANE, low=low, high=high))
        top += _LANE + _BETWEEN
    return lanes


def _reach(channels: Sequence[Drawn], edges: Sequence[float], least: float) -> tuple[float, float]:
    """Return from where to where an axis goes [unit of the channels], with room at both ends."""
    values = [float(f(c.value)) for c in channels for f in (np.nanmin, np.nanmax)] + list(edges)
    low, high = min(values), max(values)
    room = max(0.06 * (high - low), (least - (high - low)) / 2.0)
    return low - room, high + room


def _behind(picture: Picture, across: _Across, foot: float) -> Iterator[str]:
    """Draw the ribbon, and the stages in which a check was not met."""
    for stage in picture.stages:
        if stage.start_s is None:
            continue
        left = across.x(stage.start_s)
        right = across.x(across.end_s if stage.end_s is None else stage.end_s)
        missed, width = stage.id in picture.missed, max(right - left - 1.0, 0.5)
        if missed:
            yield _rect(left, _TOP, width, foot - _TOP, STOP, 0.08)
        yield _rect(left, 0.0, width, 15.0, STOP if missed else _TAN)
        names = (n for n in names_of(stage) if _LETTER * len(n) + 2.0 <= width)
        name = next(names, "")
        if name:
            colour = "#ffffff" if missed else INK
            yield _text((left + right) / 2.0, 10.8, name, colour, "middle")


def _rect(x: float, y: float, width: float, height: float, colour: str, share: float = 1.0) -> str:
    see = "" if share == 1.0 else f' fill-opacity="{share:g}"'
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{round(width, 1):g}" height="{round(height, 1):g}" '
        f'fill="{colour}"{see}/>'
    )


def _text(x: float, y: float, text: str, colour: str = SOFT, anchor: str = "start") -> str:
    at = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{x:g}" y="{round(y, 1):g}" fill="{colour}"{at}>{_plain(text)}</text>'


def _plain(text: str) -> str:
    """Escape a text, without characters that XML can't hold."""
    kept = "".join(c if c.isprintable() and ord(c) < 0xFFFE else " " for c in text)
    return html.escape(kept, quote=True)


def _rule(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return (
        f'<line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}" stroke="{colour}" '
        f'stroke-width="{width:g}"/>'
    )


def _grid(lane: _Lane, across: _Across) -> Iterator[str]:
    """Draw the values of an axis, and its unit or the name of its scale."""
    small = lane.foot - lane.top < _HIGH / 2.0
    step = _step((lane.high - lane.low) / (2.0 if small else 5.0))
    value = math.ceil(lane.low / step) * step
    unit = "g" if lane.channels[0].unit == "g" else "°C"
    while value <= lane.high:
        y = lane.y(value)
        yield _rule(_LEFT, y, across.right, y, LINE, 0.4)
        yield _text(_LEFT - 4.0, y + 3.0, exact(value, 1), SOFT, "end")
        value += step
    yield _text(_LEFT + 3.0, lane.top + 9.0, unit)


def _step(about: float) -> float:
    power = 10.0 ** math.floor(math.log10(about))
    return next((s * power for s in _STEPS if s * power >= about), 10.0 * power)


def _boxes(picture: Picture, lane: _Lane, across: _Across) -> Iterator[str]:
    roles = {c.id: c.role for c in lane.channels}
    for target in picture.targets:
        if target.channel not in roles:
            continue
        colour = COLOURS.get(roles[target.channel], COLOURS["other"])
        left, right = across.x(target.from_s), across.x(target.to_s)
        low = lane.low if target.low is None else target.low
        high = lane.high if target.high is None else target.high
        y, width = lane.y(high), max(right - left, 0.5)
        yield _rect(left, y, width, lane.y(low) - y, colour, 0.12)
        for edge in (target.low, target.high):
            if edge is not None:
                yield _rule(left, lane.y(edge), right, lane.y(edge), colour, 0.9)


def _line(
    channel: Drawn, lane: _Lane, across: _Across, stages: Sequence[StageRow]
) -> Iterator[str]:
    colour = COLOURS.get(channel.role, COLOURS["other"])
    dash = _DASHES.get(channel.role, "")
    t, v = thinned(channel.t_s, channel.value)
    used = _used(channel, t, stages)
    if not used.all():
        look = f'stroke="{colour}" stroke-width="0.6" opacity="0.55"'
        yield _path(t, np.where(used, np.nan, v), lane, across, look, dash)
    if used.any():
        look = f'stroke="{colour}" stroke-width="1.3"'
        yield _path(t, np.where(used, v, np.nan), lane, across, look, dash)
    if channel.without_lag is not None:
        t, v = thinned(channel.t_s, channel.without_lag)
        look = f'class="without-lag" stroke="{colour}" stroke-width="0.5"'
        yield _path(t, v, lane, across, look, "1 1")


def _used(
    channel: Drawn, t_s: NDArray[np.float64], stages: Sequence[StageRow]
) -> NDArray[np.bool_]:
    """Return when [s] a stage uses a channel; always where no stage says so of any."""
    found = np.zeros(t_s.shape, dtype=bool)
    known = [(s, kind) for s in stages if (kind := kind_named(s.kind)) is not None]
    if not known or channel.unit != "degC":
        return ~found
    for stage, kind in known:
        if stage.start_s is not None and channel.role in {use.role for use in kind.uses}:
            end_s = math.inf if stage.end_s is None else stage.end_s
            found |= (t_s >= stage.start_s) & (t_s <= end_s)
    return found


def _path(
    t_s: NDArray[np.float64],
    value: NDArray[np.float64],
    lane: _Lane,
    across: _Across,
    look: str,
    dash: str,
) -> str:
    """Draw a line [s, unit of the lane]; it is broken where a value is nan."""
    points, move = [], True
    for t, v in zip(t_s.tolist(), value.tolist(), strict=True):
        if math.isnan(v):
            move = True
            continue
        points.append(f"{'M' if move else 'L'}{across.x(t):g} {lane.y(v):g}")
        move = False
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path fill="none" {look}{dashes} d="{"".join(points)}"/>'


def _name(channel: Drawn) -> list[str]:
    return textwrap.wrap(channel.label, _NAME_LETTERS)[:3] or [channel.role]


def _names(lane: _Lane, across: _Across) -> Iterator[str]:
    """Write the name of each line at its end, none over another."""
    wanted = []
    for channel in lane.channels:
        last = channel.value[np.isfinite(channel.value)][-1]
        wanted.append((lane.y(float(last)), channel))
    wanted.sort(key=lambda w: w[0])
    high = sum(len(_name(channel)) for _, channel in wanted) * _FONT
    free = lane.top
    for y, channel in wanted:
        lines = _name(channel)
        at = max(free, min(y - _FONT * len(lines) / 2.0, lane.foot - high))
        colour = COLOURS.get(channel.role, COLOURS["other"])
        for number, line in enumerate(lines):
            yield _text(across.right + 5.0, at + _FONT * (number + 0.85), line, colour)
        free, high = at + _FONT * len(lines), high - _FONT * len(lines)


def _time(picture: Picture, across: _Across, foot: float) -> Iterator[str]:
    """Draw the times, and a tick for each gap, none where one is."""
    yield _rule(_LEFT, foot, across.right, foot, SOFT, 0.6)
    step = next((s for s in _TICKS_S if across.end_s / s <= 8), _TICKS_S[-1])
    for t_s in range(0, math.floor(across.end_s) + 1, step):
        x = across.x(t_s)
        yield _rule(x, foot, x, foot + 3.0, SOFT, 0.6)
        yield _text(x, foot + 12.0, clock(t_s), SOFT, "middle")
    for x in sorted({round(across.x(gap.from_s)) for gap in picture.gaps}):
        yield _rule(x, foot - 4.0, x, foot, "#857866", 0.8)


def _pours(picture: Picture, across: _Across, foot: float) -> Iterator[str]:
    for t_s in picture.pours_s:
        x = across.x(t_s)
        anchor, away = ("start", 3.0) if t_s < 0.8 * across.end_s else ("end", -3.0)
        yield _rule(x, 15.0, x, foot, ACCENT, 1.2)
        yield _text(x + away, _TOP + 9.0, f"pour {clock(t_s)}", ACCENT, anchor)


def thinned(
    t_s: NDArray[np.float64], value: NDArray[np.float64], bins: int = _BINS
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Thin a trace out to the lowest and highest value of each bin, gaps kept as nan.

    Parameters
    ----------
    t_s, value : ndarray, shape (n,)
        Rising times [s] and values.
    bins : int
        Number of bins.

    Returns
    -------
    tuple of ndarray
        Times and values to draw; extremes are those of the trace.
    """
    keep = np.isfinite(value)
    t, v = t_s[keep], value[keep]
    if t.size < 2:
        return t, v
    usual_s = float(np.median(np.diff(t)))
    if t.size > 2 * bins:
        edges = np.linspace(t[0], t[-1], bins + 1)
        places = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, bins - 1)
        starts = np.flatnonzero(np.diff(places, prepend=-1))
        picked = []
        for start, stop in zip(starts, [*starts[1:], t.size], strict=True):
            low, high = start + int(np.argmin(v[start:stop])), start + int(np.argmax(v[start:stop]))
            picked += sorted({low, high})
        t, v = t[picked], v[picked]
        usual_s = max(usual_s, float(edges[1] - edges[0]))
    holes = np.flatnonzero(np.diff(t) > max(_GAP_FACTOR * usual_s, _GAP_S))
    return np.insert(t, holes + 1, t[holes]), np.insert(v, holes + 1, np.nan)

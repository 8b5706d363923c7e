"""What lies behind the traces of a run: its stages as a ribbon, their targets, the pour.

Pure: results in, shapes and notes of a figure out. A stage with a check that was not met is filled
red; nothing else is.
"""

import html
from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.graphs import Figure
from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import GROUNDS, Theme, see_through, trace_colour
from logger.model.finding import Results
from logger.model.rows import StageRow
from logger.review.targets import Target, names_of, targets_of
from logger.words.durations import clock

RIBBON_PX = 20
"""Height of the ribbon above the plot."""
LETTERS, NARROW_LETTERS = 96, 44
"""Letters of the ribbon's size that fit over the whole width, from 768 px on and on a phone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """What lies behind the traces of one run.

    Attributes
    ----------
    stages : tuple of StageRow
        As they were run, with titles.
    missed : frozenset of str
        Ids of the stages with a check that was not met.
    targets : tuple of Target
        Of the channels, one each in a stage.
    pours_s : tuple of float
        When pours began [s].
    """

    stages: tuple[StageRow, ...]
    missed: frozenset[str] = frozenset()
    targets: tuple[Target, ...] = ()
    pours_s: tuple[float, ...] = ()

    @property
    def edges_c(self) -> list[float]:
        """Edges of the targets [degC]."""
        return [end for t in self.targets for end in (t.low, t.high) if end is not None]


def behind(results: Results | None, stages: Sequence[StageRow]) -> Behind:
    """Return what lies behind the traces.

    Parameters
    ----------
    results : Results or None
        What was found; None for a run that was not ended.
    stages : sequence of StageRow
        With their titles.
    """
    if results is None:
        return Behind(stages=tuple(stages))
    return Behind(
        stages=tuple(stages),
        missed=frozenset(f.stage for f in results.findings if f.verdict == "not met"),
        targets=tuple(targets_of(results.findings, stages)),
        pours_s=tuple(pour.start_s for pour in results.pours[:1]),
    )


def shapes(
    about: Behind,
    axes: dict[str, tuple[str, str]],
    end_s: float,
    reach: tuple[float, float],
    theme: Theme,
    measures: Measures,
) -> list[Figure]:
    """Return the ribbon, the targets and the line of the pour.

    Parameters
    ----------
    about : Behind
        What lies behind the traces.
    axes : dict
        Role and axis of the temperature channels drawn, by their ids.
    end_s : float
        End of the last stage where it has none [s].
    reach : tuple of float
        Lowest and highest temperature drawn, for targets with an open end [degC].
    theme : str
        ``dark`` or ``light``.
    measures : Measures
        How numbers are written.
    """
    ground = GROUNDS[theme]
    made: list[Figure] = []
    for stage in about.stages:
        if stage.start_s is None:
            continue
        missed = stage.id in about.missed
        span: Figure = {
            "type": "rect",
            "xref": "x",
            "yref": "paper",
            "layer": "below",
            "x0": canvas.x_of(stage.start_s),
            "x1": canvas.x_of(stage.end_s or end_s),
        }
        if missed:
            made.append(
                {
                    **span,
                    "y0": 0,
                    "y1": 1,
                    "line": {"width": 0},
                    "fillcolor": see_through(ground.stop, 0.1),
                }
            )
        made.append(
            {
                **span,
                "ysizemode": "pixel",
                "yanchor": 1,
                "y0": 3,
                "y1": 3 + RIBBON_PX,
                "line": {"width": 2, "color": ground.plate},
                "fillcolor": ground.stop if missed else see_through(ground.line, 0.28),
            }
        )
    for target in about.targets:
        if target.channel in axes:
            made += _band(target, axes[target.channel], reach, theme, measures)
    return made + [_line(at_s, theme) for at_s in about.pours_s]


def _band(
    target: Target,
    of: tuple[str, str],
    reach: tuple[float, float],
    theme: Theme,
    measures: Measures,
) -> list[Figure]:
    role, axis = of
    colour = trace_colour(role, theme)
    low = min(reach) if target.low is None else target.low
    high = max(reach) if target.high is None else target.high
    across = {
        "xref": "x",
        "yref": axis,
        "layer": "below",
        "x0": canvas.x_of(target.from_s),
        "x1": canvas.x_of(target.to_s),
    }
    ends = [float(measures.number(end, "degC")) for end in (low, high)]
    edges = [
        end for end, given in zip(ends, (target.low, target.high), strict=True) if given is not None
    ]
    return [
        {
            **across,
            "type": "rect",
            "y0": ends[0],
            "y1": ends[1],
            "fillcolor": see_through(colour, 0.12),
            "line": {"width": 0},
        },
        *(
            {**across, "type": "line", "y0": y, "y1": y, "line": {"color": colour, "width": 1.5}}
            for y in edges
        ),
    ]


def _line(at_s: float, theme: Theme) -> Figure:
    return {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": canvas.x_of(at_s),
        "x1": canvas.x_of(at_s),
        "y0": 0,
        "y1": 1,
        "line": {"color": GROUNDS[theme].accent, "width": 1.5},
    }


def names(
    about: Behind, span: Sequence[float], theme: Theme, *, narrow: bool = False
) -> list[Figure]:
    """Return the names of the stages in a window, in full where there is room, and of the pour.

    Parameters
    ----------
    about : Behind
        What lies behind the traces.
    span : sequence of float
        Window of run time [s].
    theme : str
        ``dark`` or ``light``.
    narrow : bool
        For a phone.
    """
    ground = GROUNDS[theme]
    letters = NARROW_LETTERS if narrow else LETTERS
    on_stop = ground.plate if theme == "light" else ground.ground
    made: list[Figure] = []
    for stage in about.stages:
        if stage.start_s is None:
            continue
        start_s = max(stage.start_s, span[0])
        end_s = min(span[1] if stage.end_s is None else stage.end_s, span[1])
        room = int((end_s - start_s) / (span[1] - span[0]) * letters)
        text = next((name for name in names_of(stage) if len(name) <= room), "")
        if not text:
            continue
        missed = stage.id in about.missed
        made.append(
            {
                **_note((start_s + end_s) / 2.0, html.escape(text), "center"),
                "yshift": 3 + RIBBON_PX / 2,
                "yanchor": "middle",
                "font": {"size": 12, "color": on_stop if missed else ground.ink},
            }
        )
    for at_s in about.pours_s:
        if span[0] <= at_s <= span[1]:
            right = at_s < span[0] + 0.8 * (span[1] - span[0])
            made.append(
                {
                    **_note(at_s, f"<b>pour</b> {clock(at_s)}", "left" if right else "right"),
                    "yanchor": "top",
                    "font": {"size": 12, "color": ground.accent},
                }
            )
    return made


def _note(at_s: float, text: str, anchor: str) -> Figure:
    return {
        "xref": "x",
        "x": canvas.x_of(at_s),
        "xanchor": anchor,
        "yref": "paper",
        "y": 1.0,
        "text": text,
        "showarrow": False,
    }

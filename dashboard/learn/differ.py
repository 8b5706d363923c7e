"""What differs between runs, drawn: numbers ranked by their distance, effects with their intervals.

Pure: what ``logger.review.compare`` found in, components out. What is within the usual scatter is
folded; where runs are too few to show an effect, one line says so once.
"""

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.measures import Measures
from dashboard.runs.bars import draw_effect, draw_place
from logger.review.compare.compare import EffectRow
from logger.review.compare.ranked import Difference
from logger.review.features.portrait import Portrait
from logger.review.why.explanation import capital
from logger.words.counts import count_text
from logger.words.digits import fixed

FAR = 2.0
"""So many times the usual scatter is worth a look: about as far as one good batch in twenty."""
MOST = 12
"""No more rows than this before the rest is folded."""
HINT = "point: difference · line: 95 % interval"
ALONE = 0.05
"""Share of the numbers that are shown to differ by chance alone, as their intervals are made."""
CLEAR = ("higher", "lower")
"""What an effect says that is shown."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def letter(place: int) -> str:
    """Return what the run at a place is called in short: A, B, ..."""
    return LETTERS[place] if place < len(LETTERS) else str(place + 1)


def headline(found: Sequence[Difference], runs: Sequence[Portrait], measures: Measures) -> str:
    """Return the largest difference in a sentence; that there is none where all are usual.

    Parameters
    ----------
    found : sequence of Difference
        Largest first.
    runs : sequence of Portrait
        The runs compared; the first is the reference.
    measures : Measures
        How numbers are written.
    """
    if len(runs) < 2:
        return "Compare"
    if not found or found[0].times < FAR:
        return "No number differs by more than good batches do."
    first = found[0]
    row = first.row
    others = [v for v in row.values[1:] if v is not None]
    value = max(others, key=lambda v: abs(v - (row.values[0] or 0.0)))
    place = row.values.index(value, 1)
    one, other = (measures.plain(v, row.unit, _expanded(first)) for v in (row.values[0], value))
    return f"{capital(row.label)} differs most: {one} in A, {other} in {letter(place)}."


def effects_headline(found: Sequence[EffectRow], between: str) -> str:
    """Return in a sentence which number differs most clearly between runs, if more do than would
    by chance alone; empty if the runs are too few.

    Parameters
    ----------
    found : sequence of EffectRow
        What was found of each number.
    between : str
        Between which runs: ``"between the two sheets"``.
    """
    known = sorted((row for row in found if row.effect.p is not None), key=_chance)
    clear = [row for row in known if row.effect.says in CLEAR]
    if not known:
        return ""
    if len(clear) <= ALONE * len(known):
        return f"No number differs {between} by more than chance."
    return f"{capital(clear[0].label)} differs most clearly {between}."


def _expanded(one: Difference) -> float | None:
    known = [u for u in one.row.us if u is not None]
    return 2.0 * max(known) if known else None


def draw_differences(
    found: Sequence[Difference], runs: Sequence[Portrait], measures: Measures
) -> list[Any]:
    """Draw the differences, largest first; those within the usual scatter are folded.

    Parameters
    ----------
    found : sequence of Difference
        Largest first.
    runs : sequence of Portrait
        The runs compared; the first is the reference.
    measures : Measures
        How numbers are written.
    """
    if len(runs) < 2:
        return []
    far = [one for one in found if one.times >= FAR]
    shown, rest = far[:MOST], [*far[MOST:], *(one for one in found if one.times < FAR)]
    hint = "band: lowest to highest of the good batches"
    if len(runs) == 2:
        hint += " · filled: A · ring: B"
    return [
        html.Section(
            [
                html.H2(["Differences, largest first", html.Span(hint, className="aside")]),
                _heads(runs),
                html.Ul([_row(one, runs, measures) for one in shown], className="diffs"),
                html.Details(
                    [
                        html.Summary(f"{count_text(len(rest), 'number')} within the usual scatter"),
                        html.Ul([_row(one, runs, measures) for one in rest], className="diffs"),
                    ],
                    className="more-of",
                )
                if rest
                else None,
            ]
        )
    ]


def _heads(runs: Sequence[Portrait]) -> html.Div:
    values = [html.Span("A"), html.Span("B" if len(runs) == 2 else "others"), html.Span()]
    return html.Div(
        [
            html.Span(),
            html.Span(),
            html.Span(values, className="diff-values"),
            html.Span("usual scatter", className="diff-times"),
        ],
        className="diff-heads soft",
    )


def _look(run: Portrait, place: int, count: int) -> str:
    """Return how a run is drawn: of two filled and a ring, of many by how they came out."""
    if count == 2:
        return "ring" if place else "first"
    return {"rejected": "stop", "accepted": "fine"}.get(run.outcome or "", "ring")


def _row(one: Difference, runs: Sequence[Portrait], measures: Measures) -> html.Li:
    row, expanded = one.row, _expanded(one)
    marks = [
        (value, _look(runs[place], place, len(runs)))
        for place, value in enumerate(row.values)
        if value is not None
    ]
    low, high = (min(one.good), max(one.good)) if one.good else (None, None)
    return html.Li(
        [
            html.Span(capital(row.label), className="diff-name"),
            draw_place(
                [value for value, _ in marks],
                low,
                high,
                looks=[look for _, look in marks],
                sort="good",
            ),
            html.Span(_values(one, runs, measures, expanded), className="diff-values"),
            html.Span(
                f"{fixed(one.times, 0 if one.times >= 10.0 else 1)} ×", className="diff-times"
            ),
        ]
    )


def _values(
    one: Difference, runs: Sequence[Portrait], measures: Measures, expanded: float | None
) -> list[Any]:
    row = one.row
    if len(runs) == 2:
        said = [measures.text(v, row.unit, expanded) for v in row.values]
    else:
        others = [v for v in row.values[1:] if v is not None]
        ends = [measures.text(v, row.unit, expanded) for v in (min(others), max(others))]
        said = [measures.text(row.values[0], row.unit, expanded), " to ".join(dict.fromkeys(ends))]
    unit = "" if row.unit == "s" else measures.unit(row.unit)
    return [html.Strong(said[0]), html.Span(said[1]), html.Span(unit, className="soft")]


def draw_effects(found: Sequence[EffectRow], title: str, told: str) -> list[Any]:
    """Draw effects as points with their intervals; one line where the runs are too few.

    Parameters
    ----------
    found : sequence of EffectRow
        What was found of each number.
    title : str
        What is compared with what.
    told : str
        What can be told of all of them; where the runs are too few, that they are.
    """
    known = sorted((row for row in found if row.effect.p is not None), key=_chance)
    if not known:
        return [html.Section([html.H2(title), html.P(told)])] if told else []
    clear = [row for row in known if row.effect.says in CLEAR]
    rest = [row for row in known if row not in clear]
    return [
        html.Section(
            [
                html.H2([title, html.Span(HINT, className="aside")]),
                html.P(told, className="soft"),
                html.Ul([_effect(row) for row in clear], className="diffs effects"),
                html.Details(
                    [
                        html.Summary(
                            f"{count_text(len(rest), 'number')} without a difference shown"
                        ),
                        html.Ul([_effect(row) for row in rest], className="diffs effects"),
                    ],
                    className="more-of",
                )
                if rest
                else None,
            ]
        )
    ]


def _chance(row: EffectRow) -> float:
    return 1.0 if row.effect.p is None else row.effect.p


def _effect(row: EffectRow) -> html.Li:
    return html.Li(
        [
            html.Span(capital(row.label), className="diff-name"),
            draw_effect(row.effect.shift, row.effect.low, row.effect.high),
            html.Span(row.says, className="effect-says soft"),
        ]
    )

"""What is judged of the coats, mass and thickness of each, their spread, and the notes below.

Pure; used by the watcher of coating.
"""

from collections.abc import Sequence

from logger.model.finding import Finding
from logger.model.kinds.coat import CoatStage
from logger.science.gel.coating import spread
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Context
from logger.watch.scale import pieces
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.bands import span_text
from logger.words.counts import count_text
from logger.words.values import value_text


def coat_findings(
    context: Context,
    stage: CoatStage,
    number: int,
    coat: tuple[float, float, int],
    thickness: tuple[float | None, float],
    *,
    channel: str | None,
    why_none: str,
    typed: bool,
) -> list[Finding]:
    """Judge mass and thickness of one coat.

    Parameters
    ----------
    context, stage : Context, CoatStage
        With the bands.
    number : int
        Of the piece.
    coat : tuple
        Mass and its standard uncertainty [g], and when it was weighed [ns].
    thickness : tuple
        Mean thickness, None where it cannot be told, and its standard uncertainty [mm].
    channel : str or None
        The scale.
    why_none : str
        Why there is no thickness.
    typed : bool
        Whether the mass was typed by hand.
    """
    (mass_g, u_g, at_ns), (coat_mm, u_mm) = coat, thickness
    by_hand = pieces.BY_HAND if typed else ""
    return [
        checks.finding(
            context,
            "coat.mass_g",
            Measured(value=mass_g, u=u_g, from_ns=at_ns, to_ns=at_ns, channel=channel),
            stage.pickup_g,
            piece=number,
            why_unknown=by_hand,
        ),
        checks.finding(
            context,
            "coat.thickness_mm",
            Measured(value=coat_mm, u=u_mm, from_ns=at_ns, to_ns=at_ns, channel=channel),
            stage.thickness_mm,
            piece=number,
            why_missing=why_none,
            why_unknown=by_hand,
        ),
    ]


def unweighed_findings(
    context: Context, stage: CoatStage, channel: str | None, why: str, t_ns: int
) -> list[Finding]:
    """Return that coats were not weighed, and why.

    Parameters
    ----------
    context, stage : Context, CoatStage
        With the bands.
    channel : str or None
        The scale.
    why : str
        Why not.
    t_ns : int
        End of the stage [ns].
    """
    nothing = Measured(from_ns=context.start_ns, to_ns=t_ns, channel=channel)
    return [
        checks.finding(context, key, nothing, band, why_missing=why)
        for key, band in (
            ("coat.mass_g", stage.pickup_g),
            ("coat.thickness_mm", stage.thickness_mm),
        )
    ]


def spread_values(thick_mm: Sequence[float]) -> dict[str, float]:
    """Return mean and spread of the thicknesses [mm] as named results."""
    found = spread(list(thick_mm))
    values = {"coat_mm_mean": found.mean}
    if found.sd is not None and found.relative is not None:
        values |= {"coat_mm_sd": found.sd, "coat_spread_percent": 100.0 * found.relative}
    return values


def notes(
    needed: NeededDwell | None, refused: str, thick_mm: Sequence[float], why_none: str
) -> list[str]:
    """Return the sentences under the numbers.

    Parameters
    ----------
    needed : NeededDwell or None
        Of the last coat.
    refused : str
        Why the bath that comes cannot set the coats; empty when it can.
    thick_mm : sequence of float
        Thicknesses so far [mm].
    why_none : str
        Why coats have no thickness; empty before the first coat.
    """
    lines = []
    if needed is not None:
        says = needed.says()
        lines.append(says[0].upper() + says[1:] + ".")
    if refused:
        lines.append(refused)
    if len(thick_mm) > 1:
        found = spread(list(thick_mm))
        lines.append(
            f"{count_text(found.count, 'coat')}, {value_text(found.mean, 'mm')} on average, "
            f"{span_text(found.low, found.high, 'mm')}. Setting time grows with its square."
        )
    if thick_mm:
        lines.append("Thickness is the mean: a coat that sags is thicker below.")
    elif why_none:
        lines.append(f"No thickness: {why_none}.")
    return lines

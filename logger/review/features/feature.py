"""The numbers that are taken of every run, and what one such number is.

Plain data; what is taken of a stage is said by the record of its kind.
"""

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

from logger.model.errors import UndeclaredKeyError
from logger.model.kinds.record.kind import Figure
from logger.model.kinds.registry import KINDS


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec(Figure):
    """What a number means: a figure, and the kind of stage that it belongs to.

    Attributes
    ----------
    kind : str
        Name of the kind; ``"run"`` for what belongs to the run as a whole.
    """

    kind: str

    @property
    def lowest(self) -> float:
        """Below this the number cannot lie, in `unit`."""
        signed = self.unit in ("degC", "K") or self.name.endswith("_off_percent")
        return -math.inf if signed else 0.0


class Span(NamedTuple):
    """A stretch of a channel's trace; times on the run's axis [s]."""

    channel: str | None
    from_s: float | None
    to_s: float | None


NOWHERE = Span(None, None, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One number of one run.

    Attributes
    ----------
    value : float or None
        In the spec's unit; None where it could not be had, then `missing` says why.
    u : float
        Standard uncertainty; nan when unknown.
    span : Span
        Where on the trace it comes from.
    among : str
        Of what it was taken, in words, where that is not all there was.
    """

    spec: Spec
    stage: str
    value: float | None = None
    u: float = 0.0
    span: Span = NOWHERE
    missing: str = ""
    among: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return {
            "name": self.spec.name,
            "label": self.spec.label,
            "unit": self.spec.unit,
            "stage": self.stage,
            "value": self.value,
            "u": self.u if self.u == self.u else None,
            "channel": self.span.channel,
            "from_s": self.span.from_s,
            "to_s": self.span.to_s,
            "missing": self.missing,
            "among": self.among,
        }


GAPS = Spec(
    name="gap_percent",
    label="share of the run without readings",
    unit="%",
    least=0.5,
    kind="run",
)

SPECS: tuple[Spec, ...] = (
    *(
        Spec(
            name=figure.name,
            label=figure.label,
            unit=figure.unit,
            least=figure.least,
            target=figure.target,
            taken=figure.taken,
            judged_by=figure.judged_by,
            kind=kind.name,
        )
        for kind in KINDS
        for figure in kind.figures
    ),
    GAPS,
)
"""In the order of the work."""

BY_NAME: dict[str, Spec] = {spec.name: spec for spec in SPECS}


def judging_key(name: str) -> str:
    """Return the key of the check that a figure has its uncertainty from.

    Raises
    ------
    UndeclaredKeyError
        If the record of its kind names none.
    """
    spec = BY_NAME[name]
    if spec.judged_by is None:
        raise UndeclaredKeyError(name, f"a figure of kind {spec.kind!r} that says judged_by")
    return spec.judged_by


def have(name: str, stage: str, value: float, u: float, span: Span = NOWHERE) -> Feature:
    """Return a feature that could be had.

    Parameters
    ----------
    name : str
        Name of a `Spec`.
    stage : str
        Id of the stage it was taken in.
    value, u : float
        Number and its standard uncertainty, in the unit of the feature.
    span : Span
        Where in the run it was taken.
    """
    return Feature(spec=BY_NAME[name], stage=stage, value=value, u=u, span=span)


def lack(name: str, stage: str, why: str) -> Feature:
    """Return a feature that could not be had, and why.

    Parameters
    ----------
    name : str
        Name of a `Spec`.
    stage : str
        Id of the stage it was taken in.
    why : str
        What was missing.
    """
    return Feature(spec=BY_NAME[name], stage=stage, missing=why)

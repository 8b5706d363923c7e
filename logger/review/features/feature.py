"""The fixed list of numbers that are taken of every run, and what one such number is.

Plain data. ``least`` is the standard deviation that is ordinary between good batches of one cook,
so that a handful of runs that agree by luck claim nothing (common practice, no source). ``target``
names the key of the sheet that sets a band for it.
"""

import math
from dataclasses import dataclass
from typing import Any, NamedTuple


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What a number means.

    Attributes
    ----------
    name : str
        Unit at its end: ``"fat_at_pour_c"``.
    label : str
        What a cook calls it.
    unit : str
        As in ``model.state.Number``.
    kind : str
        Kind of the stage that it belongs to.
    least : float
        Ordinary standard deviation between good batches, in `unit`.
    target : str or None
        Field of the sheet's stage that holds its band.
    """

    name: str
    label: str
    unit: str
    kind: str
    least: float
    target: str | None = None

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
    """

    spec: Spec
    stage: str
    value: float | None = None
    u: float = 0.0
    span: Span = NOWHERE
    missing: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return {
            "name": self.spec.name, "label": self.spec.label, "unit": self.spec.unit,
            "stage": self.stage, "value": self.value,
            "u": self.u if self.u == self.u else None, "channel": self.span.channel,
            "from_s": self.span.from_s, "to_s": self.span.to_s, "missing": self.missing,
        }  # fmt: skip


def _spec(
    kind: str, name: str, label: str, unit: str, least: float, target: str | None = None
) -> Spec:
    return Spec(name=name, label=label, unit=unit, kind=kind, least=least, target=target)


SPECS: tuple[Spec, ...] = (
    _spec("weigh", "fat_off_percent", "fat weighed in, off the sheet", "%", 0.5),
    _spec("weigh", "water_off_percent", "water phase weighed in, off the sheet", "%", 0.5),
    _spec("weigh", "binder_off_percent", "binder weighed in, off the sheet", "%", 1.0),
    _spec("weigh", "alginate_off_percent", "alginate weighed in, off the sheet", "%", 1.0),
    _spec("weigh", "salt_off_percent", "calcium salt weighed in, off the sheet", "%", 1.0),
    _spec("hydrate", "hydrate_s", "time to take up water", "s", 15.0, "time_s"),
    _spec("heat", "fat_at_pour_c", "fat temperature at the pour", "degC", 0.7, "fat_c"),
    _spec("heat", "water_at_pour_c", "water phase temperature at the pour", "degC", 0.7, "water_c"),
    _spec("heat", "fat_above_water_k", "fat above water at the pour", "K", 0.8,
          "fat_above_water_k"),
    _spec("heat", "fat_highest_c", "highest fat temperature", "degC", 1.0),
    _spec("heat", "melting_plateau_c", "temperature at which the fat melted", "degC", 0.5),
    _spec("heat", "warm_s", "length of the warming", "s", 15.0),
    _spec("heat", "melt_to_pour_s", "time from melted fat to pour", "s", 15.0),
    _spec("heat", "mix_predicted_c", "mixing temperature predicted", "degC", 0.7, "mix_c"),
    _spec("emulsify", "fat_lowest_c", "lowest fat temperature in the pour", "degC", 0.7),
    _spec("emulsify", "mix_measured_c", "emulsion temperature after the pour", "degC", 0.7,
          "emulsion_c"),
    _spec("emulsify", "mix_miss_k", "emulsion measured above predicted", "K", 1.2),
    _spec("emulsify", "probes_apart_k", "emulsion probe above water probe in one bowl", "K", 0.4),
    _spec("emulsify", "pour_rate_g_min", "pour rate", "g/min", 8.0, "rate_g_min"),
    _spec("emulsify", "pour_uneven_percent", "unevenness of the pour", "%", 5.0),
    _spec("emulsify", "poured_g", "mass poured", "g", 1.0, "mass_g"),
    _spec("emulsify", "fat_fraction_percent", "fat in the emulsion", "%", 0.3,
          "fat_fraction_percent"),
    _spec("form", "piece_g", "mean mass of the bare pieces", "g", 0.6, "mass_g"),
    _spec("chill", "core_after_chill_c", "core temperature after chilling", "degC", 0.6, "core_c"),
    _spec("chill", "chill_s", "chilling time", "s", 15.0, "time_s"),
    _spec("coat", "coat_mm", "mean coat thickness", "mm", 0.02, "thickness_mm"),
    _spec("coat", "coat_g", "mean coat mass", "g", 0.2, "pickup_g"),
    _spec("coat", "coat_spread_percent", "spread of the coats", "%", 2.0),
    _spec("set", "dwell_shortest_s", "shortest dwell", "s", 8.0, "dwell_s"),
    _spec("set", "dwell_mean_s", "mean dwell", "s", 8.0, "dwell_s"),
    _spec("set", "dwell_longest_s", "longest dwell", "s", 8.0, "dwell_s"),
    _spec("set", "set_fraction_percent", "least share of a skin that set", "%", 1.5),
    _spec("set", "bath_c", "bath temperature", "degC", 0.7, "bath_c"),
    _spec("set", "bath_start_g", "bath on the scale before the first piece", "g", 2.0),
    _spec("set", "piece_in_g", "mean mass of the pieces going in", "g", 0.6),
    _spec("set", "bath_left_percent", "calcium strength left", "%", 2.0),
    _spec("rinse", "rinse_s", "rinsing time", "s", 5.0, "dwell_s"),
    _spec("dry", "dry_s", "drying time", "s", 15.0, "time_s"),
    _spec("dry", "dry_loss_percent", "mass lost in drying", "%", 0.05, "loss_percent"),
    _spec("cook", "core_highest_c", "highest core temperature", "degC", 1.0, "core_c"),
    _spec("cook", "cook_s", "cooking time", "s", 15.0),
    _spec("hold", "hold_s", "holding time", "s", 15.0, "time_s"),
    _spec("run", "gap_percent", "share of the run without readings", "%", 0.5),
)  # fmt: skip
"""In the order of the work."""

BY_NAME: dict[str, Spec] = {spec.name: spec for spec in SPECS}


def have(name: str, stage: str, value: float, u: float, span: Span = NOWHERE) -> Feature:
    """Return a feature that could be had."""
    return Feature(spec=BY_NAME[name], stage=stage, value=value, u=u, span=span)


def lack(name: str, stage: str, why: str) -> Feature:
    """Return a feature that could not be had, and why."""
    return Feature(spec=BY_NAME[name], stage=stage, missing=why)

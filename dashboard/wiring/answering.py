"""The questions what a sensor is: type, class, and what its plate or data sheet says.

Pure components. Asked where a probe or a scale gets a role and where the first bench file is made;
*Don't know* is an answer. What becomes of it is ``logger.control.sensor_answer``'s.
"""

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import html

from logger.control.sensor_answer import (
    DONT_KNOW,
    OTHER,
    PLATINUM,
    PROBE_TYPES,
    SCALE_CLASSES,
    WIRE_CLASSES,
    has_wire,
)

WHY = (
    "Choose type and class: no limit is judged without them. With Don't know, the widest published "
    "class is used, and every verdict is marked as assumed."
)
FIRST = "First say what it is. Don't know is an answer."


def probe_fields(prefix: str) -> list[Any]:
    """Return the fields for a probe; ids begin with `prefix`."""
    return [
        _select(f"{prefix}-type", "Type of probe", PROBE_TYPES),
        _select(f"{prefix}-class", "Class of its wire", WIRE_CLASSES),
        _text(f"{prefix}-accuracy", "Accuracy, if not a thermocouple", "0.5 K"),
    ]


def scale_fields(prefix: str) -> list[Any]:
    """Return the fields for a scale; ids begin with `prefix`."""
    return [
        _select(f"{prefix}-scale", "Class on its plate", SCALE_CLASSES),
        _text(f"{prefix}-interval", "Interval e on its plate", "1 g"),
    ]


UNITS = {"degC": "°C", "degF": "°F", "g": "g", "kg": "kg", "lb": "lb", "oz": "oz"}
"""Units of numbers that come without one."""


def numbers_field(prefix: str) -> dmc.Select:
    """Return the field for the unit of numbers that come without one."""
    return _select(f"{prefix}-numbers", "Numbers without a unit are", UNITS)


def columns_field(prefix: str) -> html.Div:
    """Return the field for which of several numbers without a unit are probes."""
    return _text(f"{prefix}-columns", "Columns that are probes", "all, or t1, t3")


def unit_chips(prefix: str) -> html.Div:
    """Return the units of numbers that come without one, to be picked with one click."""
    chips = [dmc.Chip(label, value=unit, size="lg") for unit, label in UNITS.items()]
    return html.Div(
        [html.Span("Unit, if the line has none"), dmc.ChipGroup(chips, id=f"{prefix}-unit")],
        className="teach-line",
    )


def is_answered(type_: object, class_: object, size: object) -> bool:
    """Return whether enough was answered of a probe: an accuracy where it has no wire.

    Parameters
    ----------
    type_, class_, size : object
        As the fields have them; None where nothing was chosen.
    """
    if type_ == DONT_KNOW:
        return True
    if type_ in (PLATINUM, OTHER):
        return bool(size)
    return bool(type_) and has_wire(str(type_)) and bool(class_)


def _select(name: str, label: str, answers: Mapping[str, str]) -> dmc.Select:
    return dmc.Select(
        id=name,
        label=label,
        data=[{"value": v, "label": text} for v, text in answers.items()],
        size="lg",
        className="filter",
    )


def _text(name: str, label: str, sample: str) -> html.Div:
    field = dmc.TextInput(id=name, label=label, placeholder=sample, size="lg")
    return html.Div(field, className="filter")

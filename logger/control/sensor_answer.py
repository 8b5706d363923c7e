"""What a person answers when asked for a sensor's type and class, as the bench file has it.

Pure. Asked by the commands ``ports`` and ``sensor`` and by the page of instruments, written by
``logger.recorder.care.own_files``. *Don't know* is an answer: the sensor then counts as wide as the
widest published class of its type, and every verdict from it is marked as assumed.
"""

from typing import Any

from pydantic import ValidationError

from logger.model.bench import Sensor
from logger.model.errors import InputError
from logger.model.quantity import quantity_at

DONT_KNOW = "don't know"
PLATINUM, OTHER = "platinum", "other"
PROBE_TYPES = {
    "K": "Thermocouple K",
    "J": "Thermocouple J",
    "T": "Thermocouple T",
    "N": "Thermocouple N",
    "E": "Thermocouple E",
    "R": "Thermocouple R",
    "S": "Thermocouple S",
    "B": "Thermocouple B",
    PLATINUM: "Platinum resistor (Pt100, Pt1000)",
    OTHER: "Another probe",
    DONT_KNOW: "Don't know",
}
"""Answers to what a probe is, with what a person reads."""
WIRE_CLASSES = {
    "1": "Class 1 (IEC 60584-2)",
    "2": "Class 2 (IEC 60584-2)",
    "3": "Class 3 (IEC 60584-2)",
    "standard": "Standard (ASTM E230)",
    "special": "Special (ASTM E230)",
    DONT_KNOW: "Don't know",
}
"""Answers to the class of a thermocouple's wire."""
SCALE_CLASSES = {
    "I": "Class I",
    "II": "Class II",
    "III": "Class III",
    "IIII": "Class IIII",
    DONT_KNOW: "Don't know",
}
"""Answers to the class of a scale (OIML R 76), as its plate says."""
_KEPT = ("converter_k", "cold_junction_k", "time_constant_s")
"""What stays of the sensor that the bench file has."""


def has_wire(type_: str) -> bool:
    """Return whether a type is one of thermocouples: it has a class, others an accuracy."""
    return type_ not in (PLATINUM, OTHER, DONT_KNOW)


def sensor_of(unit: str, type_: str, class_: str, size: str, old: Sensor | None = None) -> Sensor:
    """Return the sensor that the answers describe.

    Parameters
    ----------
    unit : str
        Of the channel: ``"g"`` for a scale, else ``"degC"``.
    type_ : str
        Key of `PROBE_TYPES`; of no matter for a scale.
    class_ : str
        Key of `WIRE_CLASSES` or `SCALE_CLASSES`; of no matter for a probe without wire.
    size : str
        With its unit, as typed: the accuracy of a probe without wire, the verification interval of
        a scale; empty or `DONT_KNOW` where nobody knows.
    old : Sensor or None
        As the bench file has it; a lag and a converter's error stay.

    Raises
    ------
    InputError
        If an answer is none of those, or the quantity does not read.
    """
    size = "" if size.strip() in ("", DONT_KNOW) else size.strip()
    if unit == "g":
        return _checked(_scale(class_, size))
    if type_ not in PROBE_TYPES:
        raise InputError("type", repr(type_), f"answer one of {', '.join(PROBE_TYPES)}")
    kept = {k: v for k in _KEPT if old is not None and (v := getattr(old, k)) is not None}
    if has_wire(type_):
        return _checked(kept | _wire(type_, class_))
    kept.pop("converter_k", None)
    kept.pop("cold_junction_k", None)
    found: dict[str, Any] = {"kind": "rtd" if type_ == PLATINUM else "other"}
    found |= (
        {"accuracy_k": quantity_at("accuracy", size, "delta_degC")} if size else {"assumed": True}
    )
    return _checked(kept | found)


def sensor_text(sensor: Sensor) -> str:
    """Return a sensor as the inline table of a bench file."""
    pairs = [f'kind = "{sensor.kind}"']
    if sensor.type is not None:
        pairs.append(f'type = "{sensor.type}"')
    if sensor.class_ is not None:
        written = f'"{sensor.class_}"' if isinstance(sensor.class_, str) else str(sensor.class_)
        pairs.append(f"class = {written}")
        pairs.append(f'standard = "{sensor.standard}"')
    if sensor.oiml_class is not None:
        pairs.append(f'oiml_class = "{sensor.oiml_class}"')
    for key, value, unit in (
        ("verification_interval", sensor.interval_g, "g"),
        ("accuracy", sensor.accuracy_k, "K"),
        ("converter", sensor.converter_k, "K"),
        ("cold_junction", sensor.cold_junction_k, "K"),
        ("time_constant", sensor.time_constant_s, "s"),
    ):
        if value is not None:
            pairs.append(f'{key} = "{value:.10g} {unit}"')
    if sensor.assumed:
        pairs.append("assumed = true")
    return f"{{ {', '.join(pairs)} }}"


def _wire(type_: str, class_: str) -> dict[str, Any]:
    if class_ not in WIRE_CLASSES:
        raise InputError("class", repr(class_), f"answer one of {', '.join(WIRE_CLASSES)}")
    found: dict[str, Any] = {"kind": "thermocouple", "type": type_}
    if class_ == DONT_KNOW:
        return found | {"assumed": True}
    american = class_ in ("standard", "special")
    return found | {
        "class": class_ if american else int(class_),
        "standard": "ASTM E230" if american else "IEC 60584-2",
    }


def _scale(class_: str, size: str) -> dict[str, Any]:
    if class_ not in SCALE_CLASSES:
        raise InputError("class", repr(class_), f"answer one of {', '.join(SCALE_CLASSES)}")
    found: dict[str, Any] = {"kind": "balance"}
    interval = {"interval_g": quantity_at("verification interval", size, "g")} if size else {}
    if class_ == DONT_KNOW:
        return found | interval | {"assumed": True}
    if not interval:
        raise InputError(
            "verification interval", "not given", f"e is on its plate; or answer {DONT_KNOW}"
        )
    return found | interval | {"oiml_class": class_}


def _checked(found: dict[str, Any]) -> Sensor:
    try:
        return Sensor.model_validate(found)
    except ValidationError as cause:
        raise InputError("sensor", str(cause.errors()[0]["msg"]), "answer again") from cause

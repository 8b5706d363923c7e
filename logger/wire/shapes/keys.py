"""What an object says beside its values, by the names of its keys.

Pure data and a look-up; used by ``jsonline``. Common practice, no source.
"""

import re
from functools import lru_cache
from typing import Any, Literal, NamedTuple

What = Literal["good", "wrong", "state", "kind", "name", "number", "motion", "unit", "unknown"]
"""What a key says: that the value is good, that something is wrong, how the instrument is, what
the value is, which instrument speaks, a number that is no reading, rest or motion, the unit."""

FINE = ("", "none", "null", "no", "false", "0", "0.0", "ok")
"""What the key of a fault or an alarm says where there is none."""
GOOD = ("true", "1", "yes", "ok", "good", "valid")
FINE_STATES = (
    "ok", "good", "valid", "normal", "fine", "live", "stable", "running", "measuring", "online",
    "connected", "ready", "none", "",
)  # fmt: skip
_BAD = {
    "bad", "err", "error", "fault", "fail", "failed", "invalid", "lost", "stale", "offline",
    "disconnected", "overload", "open", "no", "not",
}  # fmt: skip
OTHERS = (
    "tare", "setpoint", "set", "target", "total", "min", "max", "rate", "slope", "delta",
    "difference", "average", "mean", "raw", "limit", "alarm", "offset", "calibration",
)  # fmt: skip
"""Words for what is no reading."""
MEASURED = ("actual", "current", "pv", "measured", "process")
"""Beside one of these, a number of another name is the one that was set."""

_KEYS: dict[What, str] = {
    "good": "ok valid is_valid good online connected present probe_ok sensor_ok is_connected",
    "wrong": "error err fault errors faults error_code err_code fault_code alarm overload over "
    "overrange over_range underrange ol open burnout short stale hold calibrating simulated",
    "state": "status state st stat quality health mode",
    "kind": "type kind",
    "name": "id name device device_id dev serial sn mac node host hostname station sensor "
    "sensor_id probe probe_id scale_id channel ch port model board fw firmware version",
    "motion": "stable unstable moving",
    "unit": "unit units",
    "number": "t ts time timestamp date datetime ms millis micros us uptime uptime_s uptime_ms "
    "epoch clock elapsed time_ms time_s t_ms n i seq no nr count counter index idx cycle frame "
    "bat batt battery battery_v battery_pct vbat vbatt bat_v vcc supply rssi snr lqi heap "
    "free_heap humidity hum rh humid pressure press hpa baro lux light co2 voc tvoc dew_point "
    "dewpoint sp sv out output duty temperature temp temp_c temp_f temp_k weight mass weight_g "
    "mass_g weight_kg mass_kg weight_oz mass_oz weight_lb mass_lb",
}
_WHAT: dict[str, What] = {key: what for what, keys in _KEYS.items() for key in keys.split()}
_NOUNS = {
    "temperature", "weight", "probe", "sensor", "scale", "balance", "thermometer", "thermocouple",
    "therm", "temp", "esp", "uno", "nano", "pico", "board", "kitchen", "bench", "lab", "pan", "pot",
    "fat", "water", "bath", "core", "room", "tank", "device", "node", "unit", "type", "one", "two",
    "three", "four",
}  # fmt: skip
"""Words that a name may have; any other may say that the value is no reading."""
_ENDS = re.compile(
    r"(?:(?P<apart>.*[^A-Za-z])|(?P<stuck>.*[a-z\d])(?=[A-Z])|)(?P<unit>[A-Za-z]+)", re.ASCII
)
"""A name and the unit at its end: ``temp_c``, ``tempC``, ``celsius``."""
_UNITS: dict[str, dict[str, str]] = {
    "temperature": {
        "c": "C", "degc": "C", "celsius": "C", "f": "F", "degf": "F", "fahrenheit": "F", "k": "K",
        "kelvin": "K",
    },
    "mass": {
        "g": "g", "gram": "g", "grams": "g", "kg": "kg", "mg": "mg", "oz": "oz", "lb": "lb",
        "lbs": "lb",
    },
}  # fmt: skip
_SAME = {"temperature": "", "temp": "", "weight": "", "mass": "", "deg": ""}
"""Words that say the quantity only: ``temp_c`` is ``celsius``."""
_TIME = re.compile(r"[\d:.\-/ ]+(?:T[\d:.]+)?(?:Z|[+-]\d\d:?\d\d)?")
_HEX = re.compile(r"\d+|[0-9A-Fa-f:.\-]{6,}")


class Named(NamedTuple):
    """What a key says of its value."""

    what: str
    """What is measured, in small letters."""
    unit: str
    """Nothing where the key names none."""


@lru_cache(maxsize=1024)
def what_in_which_unit(key: str, quantity: str) -> Named:
    """Return what a key names and its unit: ``temp_c`` and ``tempF`` name one thing in two units.

    Parameters
    ----------
    key : str
        As it stands in the object.
    quantity : str
        ``"mass"`` or ``"temperature"``; the name of another one has no unit here.
    """
    match = _ENDS.fullmatch(key)
    unit = _UNITS.get(quantity, {}).get(match["unit"].lower(), "") if match else ""
    what = ((match["apart"] or match["stuck"] or "") if match and unit else key).lower()
    if unit and len(key) == 1:
        return Named("a letter", unit)  # it may mean another thing beside a name
    words = what.replace("-", "_").split("_")
    return Named("_".join(_SAME.get(word, word) for word in words if word), unit)


def what_says(key: str) -> What:
    """Return what a key beside the values says."""
    found = _WHAT.get(key)
    if found is not None:
        return found
    return "number" if any(part in OTHERS for part in key.split("_")) else "unknown"


def is_wrong(said: Any) -> bool:
    """Whether what is said of faults names one; in a list or an object, any of them."""
    if isinstance(said, list | dict):
        return any(is_wrong(one) for one in (said.values() if isinstance(said, dict) else said))
    return str(said).lower() not in FINE


def says_bad(text: str) -> bool:
    """Whether a word of a state, in small letters, says that there is no good value."""
    return not _BAD.isdisjoint(re.findall("[a-z]+", text))


def is_plain(said: Any) -> bool:
    """Whether something is a number or a time of day, and not a yes or a word."""
    if isinstance(said, str):
        return _TIME.fullmatch(said) is not None
    return said is None or (isinstance(said, int | float) and not isinstance(said, bool))


def is_name(said: Any) -> bool:
    """Whether something names an instrument, and nothing else."""
    if isinstance(said, int) and not isinstance(said, bool):
        return True
    if not isinstance(said, str):
        return False
    if _HEX.fullmatch(said):
        return True
    words = re.findall("[a-z]+", said.lower())
    return all(len(word) == 1 or word in _NOUNS for word in words)

"""A channel's corrector from the sensor and the check that its table in a bench file names."""

import datetime
import math
from typing import Any, NamedTuple

from logger.correct.channel import Corrector
from logger.model.bench import Channel

TODAY = datetime.date(2026, 11, 25)
CHECKED = "2026-11-02"
PLAIN_K = {"kind": "thermocouple", "type": "K", "class": 1, "converter": "2 K"}
TYPE_T = {"kind": "thermocouple", "type": "T", "class": 1}
SCALE = {"kind": "balance", "oiml_class": "II", "verification_interval": "0.1 g"}


def corrector(today: datetime.date = TODAY, **keys: Any) -> Corrector:
    table = {"id": "fat", "instrument": "probes", "field": "t1", "role": "fat", **keys}
    return Corrector(Channel.model_validate(table), today)


class Part(NamedTuple):
    """One line of the uncertainty budget at a value."""

    name: str
    u: float
    distribution: str
    source: str


def budget(c: Corrector, value: float) -> list[Part]:
    return [Part(t.name, t.at(value), t.distribution, t.source) for t in c.terms]


def line(c: Corrector, name: str, value: float) -> float:
    return math.hypot(*(t.u for t in budget(c, value) if t.name == name))

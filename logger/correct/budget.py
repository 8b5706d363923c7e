"""From what the bench file says about a channel to the lines of its uncertainty budget.

Pure; used by logger.correct.channel. Where the bench file is silent there are three answers: a wide
default marked "typical, unverified", a line that is contained in another one, or unknown (NaN),
which makes the whole unknown and leaves every check undecided. What is unknown: a channel without
a sensor and without a check; wire without a class and without a check; a balance or another probe
without a stated error and without a check.
"""

import datetime
import math

from logger.correct.correction import (
    TYPICAL,
    check_u,
    checked_at_c,
    overdue_days,
)
from logger.correct.terms import (
    BalanceLimit,
    FlatLimit,
    Limit,
    Limited,
    PlatinumLimit,
    Steady,
    Term,
    TwoPointCheck,
    WidestBalanceLimit,
    WidestWireLimit,
    WireLimit,
)
from logger.model.bench import Channel, Correction, Sensor
from logger.science.metrology.tolerance import classes_of
from logger.science.metrology.uncertainty import resolution_u
from logger.words.values import exact_text

CONVERTER_K = 2.0
"""Half width of a converter that states nothing [K]: typical of 14-bit boards, unverified."""
COLD_JUNCTION_K = 0.5
"""Half width of a cold junction that states nothing [K]: typical, unverified."""
PROBE_K = 2.5
"""Half width taken for a checked probe of unknown class, away from its check [K]: the widest class
of base-metal wire; typical, unverified."""
REPEATABILITY_K = 0.1
"""Standard deviation of repeats [K]: typical, unverified."""
STEP_K = 0.25
"""Step of a display that states nothing [K]: the coarsest usual one; typical, unverified."""
STEP_G = 1.0
"""Step of a scale that states nothing [g]: the coarsest usual one; typical, unverified."""
ASSUMED = '"don\'t know" was answered'
CHECKED_BALANCE_STEPS = 2.0
"""Half width of a checked balance without a class, in steps: typical, unverified."""


def step_of(channel: Channel) -> tuple[float, str]:
    """Smallest step of a channel's display, and where the number comes from.

    Parameters
    ----------
    channel : Channel
        As written in the bench file.

    Returns
    -------
    tuple
        Step [degC or g] and its source.
    """
    if channel.resolution is not None:
        return channel.resolution, "bench file"
    if channel.unit == "g":
        interval = channel.sensor.interval_g if channel.sensor is not None else None
        if interval is not None:
            return interval, "verification interval of the bench file"
        return STEP_G, TYPICAL
    return STEP_K, TYPICAL


def terms_of(channel: Channel, today: datetime.date) -> tuple[Term, ...]:
    """Lines of a channel's uncertainty budget.

    Parameters
    ----------
    channel : Channel
        As written in the bench file.
    today : date
        Day of the run; decides whether the check is overdue.

    Returns
    -------
    tuple of Term
        Systematic lines first, then the display's steps and repeatability.
    """
    systematic = _balance_terms(channel) if channel.unit == "g" else _temperature_terms(channel)
    return (*systematic, *_overdue_terms(channel, today), *_random_terms(channel))


def unset_keys(channel: Channel) -> str:
    """Return which keys of a channel would set its uncertainty; empty where it is set."""
    sensor, correction = channel.sensor, channel.correction
    if correction is not None:
        return ""
    if channel.unit == "g":
        if _balance_limit(channel)[0] is not None:
            return ""
        return "sensor.oiml_class and sensor.verification_interval, or sensor.linearity"
    if _probe_limit(sensor)[1] is not None:
        return ""
    if sensor is None:
        return "sensor.kind, sensor.type and sensor.class"
    if sensor.kind == "thermocouple":
        return "sensor.type and sensor.class"
    return "sensor.accuracy"


def _random_terms(channel: Channel) -> list[Term]:
    step, step_source = step_of(channel)
    repeats, source = channel.repeatability, "bench file"
    if repeats is None:
        repeats, source = (step if channel.unit == "g" else REPEATABILITY_K), TYPICAL
    return [
        Steady(
            name="resolution",
            source=step_source,
            distribution="rectangular",
            random=True,
            u=resolution_u(step),
        ),
        Steady(name="repeatability", source=source, random=True, u=repeats),
    ]


def _unknown(name: str, what: str) -> Term:
    return Steady(name=name, source=f"unknown: {what}", distribution="unknown", u=math.nan)


def assumes(sensor: Sensor | None) -> bool:
    """Return whether a sensor's error is taken as wide as any of its type, since nobody knows."""
    if sensor is None or not sensor.assumed:
        return False
    if sensor.kind == "balance":
        stated = sensor.linearity_g is not None
        return not stated and (sensor.oiml_class is None or sensor.interval_g is None)
    if sensor.kind == "thermocouple":
        return sensor.type is None or sensor.class_ is None
    return sensor.accuracy_k is None


def _probe_limit(sensor: Sensor | None) -> tuple[str, Limit | None, str]:
    """Name, half width and source of a temperature probe's own error; None if unknown."""
    if sensor is None:
        return "probe", None, "the bench file names no sensor"
    if sensor.kind == "thermocouple":
        if assumes(sensor):
            of = "any base metal" if sensor.type is None else f"type {sensor.type}"
            source = f"widest published class of {of}: {ASSUMED}"
            return "wire", WidestWireLimit(tc_type=sensor.type), source
        if sensor.type is None or sensor.class_ is None:
            return "wire", None, "the bench file names no type and class of the wire"
        if sensor.class_ not in classes_of(sensor.type, sensor.standard):
            return "wire", None, f"{sensor.standard} has no class {sensor.class_} of {sensor.type}"
        limit = WireLimit(tc_type=sensor.type, wire_class=sensor.class_, standard=sensor.standard)
        return "wire", limit, f"{sensor.standard}, type {sensor.type}, class {sensor.class_}"
    if assumes(sensor) and sensor.kind == "rtd":
        return "probe", PlatinumLimit(), f"IEC 60751, class C, the widest: {ASSUMED}"
    if assumes(sensor):
        return "probe", FlatLimit(half_width=PROBE_K), f"{TYPICAL}: {ASSUMED}"
    if sensor.accuracy_k is None:
        return "probe", None, "the bench file states no accuracy"
    return "probe", FlatLimit(half_width=sensor.accuracy_k), "bench file"


def _temperature_terms(channel: Channel) -> list[Term]:
    sensor, correction = channel.sensor, channel.correction
    name, limit, source = _probe_limit(sensor)
    is_thermocouple = sensor is not None and sensor.kind == "thermocouple"
    assumed = assumes(sensor)
    if correction is None:
        if limit is None:
            return [_unknown(name, source)]
        own = Limited(
            name=name, source=source, distribution="rectangular", limit=limit, assumed=assumed
        )
        if sensor is not None and sensor.kind == "other" and assumed:
            return [own, *_converter_terms(sensor)]
        return [own, *(_converter_terms(sensor) if is_thermocouple else [])]
    places = checked_at_c(correction)
    if limit is None:
        limit, source = FlatLimit(half_width=PROBE_K), f"{TYPICAL}: {source}"
    away = f"{source}; how far from its point a check holds is {TYPICAL}"
    terms: list[Term] = [
        _check_term(channel, correction),
        Limited(
            name=f"{name} away from the check",
            source=away,
            distribution="rectangular",
            limit=limit,
            checked_at=places,
            assumed=assumed,
        ),
    ]
    return [*terms, *(_cold_junction_terms(sensor, default=True) if is_thermocouple else [])]


def _check_term(channel: Channel, correction: Correction) -> Term:
    u, source = check_u(correction, channel.unit, step_of(channel)[0])
    if correction.points is None:
        return Steady(name="check", source=source, u=u)
    (_, first), (_, second) = correction.points
    return TwoPointCheck(name="check", source=source, u=u, first=first, second=second)


def _converter_terms(sensor: Sensor | None) -> list[Term]:
    """Converter and cold junction of an unchecked thermocouple channel.

    A data sheet's converter error contains its cold junction; a cold junction line of its own
    stands only where the bench file states one.
    """
    stated = sensor.converter_k if sensor is not None else None
    converter = Limited(
        name="converter",
        source="bench file" if stated is not None else TYPICAL,
        distribution="rectangular",
        limit=FlatLimit(half_width=CONVERTER_K if stated is None else stated),
    )
    return [converter, *_cold_junction_terms(sensor, default=False)]


def _cold_junction_terms(sensor: Sensor | None, *, default: bool) -> list[Term]:
    stated = sensor.cold_junction_k if sensor is not None else None
    if stated is None and not default:
        return []
    return [
        Limited(
            name="cold junction",
            source="bench file" if stated is not None else TYPICAL,
            distribution="rectangular",
            shared=True,
            limit=FlatLimit(half_width=COLD_JUNCTION_K if stated is None else stated),
        )
    ]


def _balance_limit(channel: Channel) -> tuple[Limit | None, str]:
    sensor = channel.sensor
    if sensor is None:
        return None, "the bench file names no sensor"
    if sensor.oiml_class is not None and sensor.interval_g is not None:
        limit = BalanceLimit(oiml_class=sensor.oiml_class, interval_g=sensor.interval_g)
        return limit, f"OIML R 76, class {sensor.oiml_class}, in service"
    if sensor.linearity_g is not None:
        return FlatLimit(half_width=sensor.linearity_g), "bench file"
    if assumes(sensor):
        interval_g = sensor.interval_g or step_of(channel)[0]
        source = f"OIML R 76, widest class, e = {exact_text(interval_g, 'g')}: {ASSUMED}"
        return WidestBalanceLimit(interval_g=interval_g), source
    return None, "the bench file states neither class and interval nor linearity"


def _balance_terms(channel: Channel) -> list[Term]:
    """A check weight finds the offset of one load; the balance's limit stays beside it."""
    limit, source = _balance_limit(channel)
    correction = channel.correction
    if limit is None and correction is None:
        return [_unknown("balance", source)]
    if limit is None:
        half_width = CHECKED_BALANCE_STEPS * step_of(channel)[0]
        limit, source = FlatLimit(half_width=half_width), f"{TYPICAL}: {source}"
    own = Limited(
        name="balance",
        source=source,
        distribution="rectangular",
        limit=limit,
        assumed=assumes(channel.sensor),
    )
    return [own] if correction is None else [_check_term(channel, correction), own]


def _overdue_terms(channel: Channel, today: datetime.date) -> list[Term]:
    """An overdue check fades: one more interval later nothing of it is relied on."""
    correction = channel.correction
    late = overdue_days(correction, today)
    if correction is None or late == 0:
        return []
    share = min(1.0, late / correction.due_days)
    source = f"{late} days overdue; how fast a check ages is {TYPICAL}"
    sensor = channel.sensor
    if channel.unit == "g":
        limit = _balance_limit(channel)[0]
        limits = [limit or FlatLimit(half_width=CHECKED_BALANCE_STEPS * step_of(channel)[0])]
    else:
        limits = [_probe_limit(sensor)[1] or FlatLimit(half_width=PROBE_K)]
        if sensor is not None and sensor.kind == "thermocouple":
            converter = CONVERTER_K if sensor.converter_k is None else sensor.converter_k
            limits.append(FlatLimit(half_width=converter))
    return [
        Limited(
            name="overdue check",
            source=source,
            distribution="rectangular",
            limit=limit,
            share=share,
        )
        for limit in limits
    ]

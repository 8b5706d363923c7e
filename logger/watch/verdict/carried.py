"""Which sensors' uncertainty a value carries, and why it is unknown.

Pure; asked by ``logger.watch.verdict.checks`` for every finding. A check says by roles whose
uncertainty its value carries; how each sensor's is known, the last reading and the bench file say.
"""

import math

from logger.model.bench import SCALE_ROLES, Channel
from logger.model.checks import check_of
from logger.model.kinds.record.kind import OWN
from logger.watch.engine.contract import Context
from logger.watch.verdict.measured import Measured


def carried(context: Context, key: str, measured: Measured) -> list[Channel]:
    """Return the channels whose uncertainty the value of a check carries.

    Parameters
    ----------
    context : Context
        Of the watcher; gives the bench.
    key : str
        Of the check.
    measured : Measured
        The value; names its own channel.
    """
    found = []
    for role in check_of(key).sensors:
        if role == OWN:
            known = (c for c in context.bench.channel if c.id == measured.channel)
            channel = next(known, None)
        else:
            channel = context.bench.channel_of(role)
        if channel is not None:
            found.append(channel)
    return found


def unknown_among(context: Context, channels: list[Channel]) -> list[Channel]:
    """Return those whose last reading came without a known uncertainty."""
    last = context.batch.last
    return [c for c in channels if c.id in last and math.isnan(last[c.id].u)]


def why_unknown(context: Context, channels: list[Channel]) -> str:
    """Say whose uncertainty is not set, and what sets it; empty where all is known.

    Parameters
    ----------
    context : Context
        Of the watcher; gives the correctors.
    channels : list of Channel
        Those whose uncertainty a value carries.
    """
    said = []
    for channel in unknown_among(context, channels):
        corrector = context.correctors.get(channel.id)
        if corrector is not None and corrector.known:
            said.append(f"the uncertainty of the {_sensor(channel)} is unknown at what it showed")
            continue
        keys = corrector.unset if corrector is not None else "sensor"
        said.append(
            f"the uncertainty of the {_sensor(channel)} is not set; before the next run say what "
            f"it is with bainlog sensor {channel.id} (bench file, channel {channel.id}: {keys})"
        )
    return " and ".join(said)


def any_assumed(context: Context, channels: list[Channel]) -> bool:
    """Return whether the uncertainty of one of the channels was assumed."""
    correctors = context.correctors
    return any(c.id in correctors and correctors[c.id].assumed for c in channels)


def _sensor(channel: Channel) -> str:
    """Return what a sentence calls a sensor: ``"fat sensor"``, ``"bench scale"``."""
    if channel.role == "other":
        return f"sensor {channel.id}"
    name = channel.role.replace("_", " ")
    return name if channel.role in SCALE_ROLES else f"{name} sensor"

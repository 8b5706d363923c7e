"""How the checks of the bench's sensors stand, for the screen and for the results of a run.

Pure; used by logger.watch.sensors.health. An overdue check is named with what to do, a sensor that
was never checked is only said to be so: neither is an alarm, since the uncertainty carries both.
"""

from collections.abc import Iterable, Mapping

from logger.correct.channel import Corrector
from logger.model.bench import Channel
from logger.model.rows import SensorRow
from logger.model.state import ChannelView


def tell(view: ChannelView, corrector: Corrector | None) -> None:
    """Write into a channel's view how its check stands."""
    if corrector is not None:
        view.checked, view.check = corrector.standing.says, state_of(corrector)


def state_of(corrector: Corrector) -> str:
    """Return ``good``, ``overdue`` or ``never``."""
    if corrector.standing.checked is None:
        return "never"
    return "overdue" if corrector.overdue_days > 0 else "good"


def rows(channels: Iterable[Channel], correctors: Mapping[str, Corrector]) -> list[SensorRow]:
    """Return one row a channel for the results; channels without a corrector are left out."""
    found = []
    for channel in channels:
        corrector = correctors.get(channel.id)
        if corrector is None:
            continue
        standing = corrector.standing
        found.append(
            SensorRow(
                channel=channel.id,
                label=channel.name,
                check=state_of(corrector),
                checked=None if standing.checked is None else standing.checked.isoformat(),
                ago_days=standing.ago_days,
                due_days=standing.due_days,
                overdue_days=standing.overdue_days,
                says=standing.says,
            )
        )
    return found


def sentences(sensors: Iterable[SensorRow]) -> list[str]:
    """Say which checks are overdue, each in a sentence, and in one which were never made.

    Parameters
    ----------
    sensors : iterable of SensorRow
        Rows as `rows` makes them.
    """
    kept = list(sensors)
    said = [f"{row.label}: {row.says}." for row in kept if row.check == "overdue"]
    never = [row.label for row in kept if row.check == "never"]
    if never:
        said.append(f"Sensors never checked: {', '.join(never)}.")
    return said

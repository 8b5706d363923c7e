"""Which channels a stage needs, and the band of each in it.

Pure look-ups in sheet and bench; used by logger.watch.sensors.health and
logger.watch.engine.screen.
"""

from logger.model.bench import Bench, Channel
from logger.model.sheet import EmulsifyStage, Sheet, Stage
from logger.model.written import Band

NEEDED_ROLES: dict[str, tuple[str, ...]] = {
    "weigh": ("bench_scale",),
    "hydrate": (),
    "heat": ("fat", "water"),
    "emulsify": ("bowl_scale", "emulsion"),
    "form": ("bench_scale",),
    "chill": ("core",),
    "coat": ("bench_scale",),
    "set": ("bath_scale", "bath"),
    "rinse": (),
    "dry": ("bench_scale",),
    "cook": ("core",),
    "hold": ("core",),
    "fat_curve": ("fat",),
}
"""Roles whose silence calls for action at once while a stage of the kind is under way."""

_BANDS: dict[str, str] = {
    "fat": "fat_c",
    "water": "water_c",
    "emulsion": "emulsion_c",
    "bath": "bath_c",
    "core": "core_c",
}


def needed_channels(sheet: Sheet, bench: Bench, stage_id: str | None) -> frozenset[str]:
    """Return the ids of the channels that a stage cannot do without."""
    stage = next((s for s in sheet.stage if s.id == stage_id), None)
    if stage is None:
        return frozenset()
    found = {c.id for role in NEEDED_ROLES[stage.kind] if (c := bench.channel_of(role))}
    own = getattr(stage, "channel", None)
    return frozenset(found | {own} if own is not None else found)


def band_of(stage: Stage | None, channel: Channel) -> Band | None:
    """Return the band of a channel in a stage, where the sheet gives one."""
    if stage is None:
        return None
    if getattr(stage, "channel", None) == channel.id:
        return getattr(stage, "temp_c", None)
    if isinstance(stage, EmulsifyStage) and channel.role != "emulsion":
        return None
    return getattr(stage, _BANDS.get(channel.role, ""), None)

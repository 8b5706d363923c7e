"""What a run's stages are called where there is little room, and the temperatures they aim at.

Pure: findings and stage rows in, records out. Drawn behind the traces, on the screen and on paper.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.model.finding import Finding
from logger.model.kinds.registry import kind_named
from logger.model.rows import StageRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A target of a temperature while a stage lasts: [s] and [degC]; an open end is None."""

    channel: str
    from_s: float
    to_s: float
    low: float | None
    high: float | None


def targets_of(findings: Sequence[Finding], stages: Sequence[StageRow]) -> list[Target]:
    """Return the temperature targets of each stage, side after side where there are several."""
    found = []
    for stage in stages:
        by_channel: dict[str, Finding] = {}
        for one in findings:
            if one.stage != stage.id or one.unit != "degC" or one.channel is None:
                continue
            if one.low is None and one.high is None:
                continue
            known = by_channel.get(one.channel)
            if known is None or _open_ends(one) < _open_ends(known):
                by_channel[one.channel] = one
        if not by_channel or stage.start_s is None or stage.end_s is None:
            continue
        share_s = (stage.end_s - stage.start_s) / len(by_channel)
        for place, (channel, one) in enumerate(by_channel.items()):
            from_s = stage.start_s + place * share_s
            found.append(
                Target(
                    channel=channel,
                    from_s=from_s,
                    to_s=from_s + share_s,
                    low=one.low,
                    high=one.high,
                )
            )
    return found


def _open_ends(found: Finding) -> int:
    return (found.low is None) + (found.high is None)


def names_of(stage: StageRow) -> list[str]:
    """Return what a stage may be called where there is ever less room, the full name first."""
    title, kind = stage.title or stage.id, kind_named(stage.kind)
    short = title if kind is None else kind.title
    return [title, short, short.split()[0]]

"""Rows of readings into the detector of immersions."""

from collections.abc import Iterable

from logger.watch.stages.set.immersion.detector import ImmersionDetector


def feed_many(
    detector: ImmersionDetector, t_s: Iterable[float], mass_g: Iterable[float | None]
) -> None:
    for at, mass in zip(t_s, mass_g, strict=True):
        detector.feed(at, mass)

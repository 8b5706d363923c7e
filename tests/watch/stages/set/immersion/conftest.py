"""A bath scale's readings written down move by move."""

from collections.abc import Callable

import numpy as np
import pytest


def bath_of(
    *moves: tuple[float, float],
    until_s: float,
    rate_hz: float = 10.0,
    step_g: float = 0.1,
    noise_g: float = 0.1,
    edge_s: float = 0.8,
    seed: int = 1,
) -> tuple[list[float], list[float]]:
    """Readings of a bath of 2000 g; each move (t, g) adds g over `edge_s` around t."""
    t = np.arange(0.0, until_s, 1 / rate_hz)
    x = 2000 + np.random.default_rng(seed).normal(0, noise_g, t.size)
    for at, change in moves:
        x += change * np.clip((t - at) / edge_s + 0.5, 0, 1)
    return t.tolist(), (np.round(x / step_g) * step_g).tolist()


@pytest.fixture
def bath() -> Callable[..., tuple[list[float], list[float]]]:
    return bath_of

"""A bath that jumps about is explained in bounded work; many pieces at once are told too."""

import random

import numpy as np
import pytest

from logger.watch.stages.set.immersion import trellis
from logger.watch.stages.set.immersion.detector import ImmersionDetector
from tests.watch.stages.set.immersion.feeding import feed_many


@pytest.fixture
def models(monkeypatch):
    """The transition models made, one for each forward-backward pass."""
    made = []

    class Counted(trellis.TransitionModel):
        def __init__(self, *args):
            super().__init__(*args)
            made.append(self)

    monkeypatch.setattr(trellis, "TransitionModel", Counted)
    return made


def test_a_scale_that_jumps_every_seven_seconds_holds_nothing_up(models):
    """Its work would otherwise grow without end: minutes of processor for one look."""
    chance = random.Random(3)
    levels_g = [5000.0 + chance.uniform(-400, 400) for _ in range(60)]
    detector = ImmersionDetector()
    for number in range(60 * 14):
        detector.feed(number / 2, round(levels_g[number // 14] + chance.gauss(0, 0.1), 1))
    detector.end()
    detector.table()
    assert len(models) >= 2
    assert max(model.work for model in models) < 4 * trellis.MOST_WORK


def test_thirty_pieces_at_once_are_all_found_in_bounded_work(models):
    t_s = np.arange(0.0, 100.0 + 30 * 20.0 + 800.0, 0.2)
    mass_g = 5000.0 + np.random.default_rng(0).normal(0.0, 0.2, t_s.size)
    for number in range(30):
        piece_g, in_s = 80.0 + number % 3, 100.0 + 20.0 * number
        mass_g += piece_g * np.clip(t_s - in_s, 0, 1)
        mass_g -= (piece_g + 1.5) * np.clip(t_s - in_s - 700.0, 0, 1)
    detector = ImmersionDetector(planned_s=(600.0, 800.0))
    feed_many(detector, t_s.tolist(), np.round(mass_g, 1).tolist())
    detector.end()
    rows = detector.table().immersions
    assert len(rows) == 30
    assert all(abs(row.dwell_s - 700.0) < 5.0 for row in rows)
    assert max(model.work for model in models) < 4 * trellis.MOST_WORK

"""Portraits of invented runs, for tests of what is done with them."""

import numpy as np
import pytest

from logger.model.files import sheet_from_text
from logger.review.features.feature import BY_NAME, Feature, Span
from logger.review.features.portrait import Portrait
from logger.review.learn.sheets import template

USUAL = {
    "hydrate_s": (900.0, 20.0, 1.0),
    "fat_at_pour_c": (53.0, 0.8, 0.25),
    "water_at_pour_c": (49.5, 0.6, 0.25),
    "fat_above_water_k": (3.5, 0.9, 0.35),
    "fat_highest_c": (53.5, 0.8, 0.25),
    "melting_plateau_c": (35.6, 0.2, 0.25),
    "mix_predicted_c": (50.0, 0.5, 0.2),
    "fat_lowest_c": (52.0, 0.8, 0.25),
    "mix_measured_c": (48.0, 0.5, 0.25),
    "mix_miss_k": (-2.5, 0.3, 0.35),
    "probes_apart_k": (0.1, 0.1, 0.3),
    "fat_probe_apart_k": (2.4, 0.5, 0.3),
    "pour_rate_g_min": (100.0, 8.0, 1.0),
    "fat_fraction_percent": (34.5, 0.2, 0.05),
    "coat_mm": (0.6, 0.03, 0.01),
    "coat_thinnest_mm": (0.57, 0.03, 0.01),
    "coat_thickest_mm": (0.63, 0.03, 0.01),
    "coat_spread_percent": (4.0, 1.0, 0.5),
    "dwell_shortest_s": (500.0, 15.0, 1.0),
    "dwell_mean_s": (520.0, 10.0, 1.0),
    "dwell_longest_s": (540.0, 15.0, 1.0),
    "set_fraction_percent": (99.0, 0.5, 3.0),
    "bath_c": (20.5, 0.7, 0.25),
    "bath_start_g": (2617.0, 1.5, 0.3),
    "rinse_s": (110.0, 4.0, 1.0),
}
"""Mean, standard deviation between good batches, standard uncertainty."""
STAGES = {s.kind: s.id for s in sheet_from_text(template(), "template").stage}


def make(run_id="run", *, seed=0, outcome="accepted", defects=(), text=None, changed=None,
         without=(), u=None, **rest):  # fmt: skip
    """Return a portrait of a good run but for what is changed."""
    rng = np.random.default_rng(seed)
    values = {name: mean + sd * rng.standard_normal() for name, (mean, sd, _) in USUAL.items()}
    values |= changed or {}
    found = {}
    for name, value in values.items():
        stage = STAGES.get(BY_NAME[name].kind, "")
        if name in without:
            found[name] = Feature(
                spec=BY_NAME[name], stage=stage, missing="the probe was not there"
            )
        else:
            spread = u[name] if name in (u or {}) else USUAL[name][2]
            found[name] = Feature(
                spec=BY_NAME[name], stage=stage, value=value, u=spread, span=Span("x", 10.0, 20.0)
            )
    fields = {"findings": (), "unweighed": frozenset(), "gaps": (), "notes": ()} | rest
    return Portrait(
        run_id=run_id, sheet=sheet_from_text(text or template(), "sheet"), outcome=outcome,
        defects=tuple(defects), features=found, **fields,
    )  # fmt: skip


@pytest.fixture
def make_run():
    return make


@pytest.fixture
def good_runs():
    return [make(f"good{i}", seed=100 + i) for i in range(8)]

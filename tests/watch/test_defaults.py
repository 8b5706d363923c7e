"""What nobody said of a value is nothing: no flag, nought, nothing known; but for these."""

import math

from tests.plain_defaults import said_by_default

SAID = {
    "Condition.priority": "high",
    "Scene.phase": "idle",
    "Pour.portions": 1,  # a pour is one
    "Part.sure": True,  # doubts are put in where they are found
    "Row.out_edge": -1,  # no edge
    "ModelParameters.buoyancy": 1.0,  # a piece weighs in the bath what it weighs
    "Node.forward": -math.inf,  # logarithms of no probability
    "Node.best": -math.inf,
    "Node.backward": -math.inf,
    "Immersion.confidence": 1.0,
    "Segment.level_age_s": 1e9,  # of any age
    "Alarm.state": "normal",
    "Alarm.seen_ns": -1,  # before any time
}
TUNED = {
    "Condition.on_delay_s", "Condition.off_delay_s", "Change.step_g", "Change.zero_g",
    "ModelParameters.drag_g", "ModelParameters.drag_sd_g", "ModelParameters.piece_g",
    "ModelParameters.piece_log_sd", "ModelParameters.dip_sd_g", "ModelParameters.in_order",
    "ModelParameters.dwell_sd_s",
}  # fmt: skip


def test_what_is_not_said_of_a_value_is_nothing():
    said = dict(said_by_default("logger.watch"))
    assert {name: said[name] for name in said if name not in TUNED} == SAID
    assert set(said) >= TUNED

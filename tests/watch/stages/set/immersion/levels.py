"""Levels at rest of a made-up bath, for the tests of its parts."""

from logger.watch.stages.set.segment import Segment


def level(start_s, end_s, mass_g, **more):
    """Return a level at rest; the edge before it took a second."""
    given = {
        "start_s": start_s, "end_s": end_s, "initial_g": mass_g, "start_g": mass_g,
        "end_g": mass_g, "u_start_g": 0.05, "u_end_g": 0.05, "edge_s": start_s - 0.5,
        "edge_from_s": start_s - 1.0, "edge_to_s": start_s, "rise_s": 1.0, "span_s": 1.0,
        "early_s": start_s - 0.6, "late_s": start_s - 0.4,
    }  # fmt: skip
    return Segment(**(given | more))

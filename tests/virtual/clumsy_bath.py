"""Sessions at a bath in which hands do what they should not, with their truth.

A session of `bath_session` with gaps anywhere and pieces lowered slowly, and around it what the
cook says of it: *Next* in time, late, early, twice or never. Random, but possible. Seeded.
"""

from dataclasses import dataclass, replace

import numpy as np

from tests.virtual.bath_script import Scene
from tests.virtual.bath_session import BathTrace, TrueImmersion, bath_trace

BEGINS = ("in time", "late", "after all were in", "never", "twice", "early")
"""When *Next* comes that begins the bath stage."""
ENDS = ("in time", "early", "never")
"""When *Next* comes that ends it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClumsyBath:
    """One session.

    Attributes
    ----------
    trace : BathTrace
        What the scale showed, and the truth.
    begins, ends : str
        Of `BEGINS` and `ENDS`.
    nexts_s : tuple of float
        When *Next* is pressed [s]; the first begins the stage before the bath.
    weighed, planned, counted : bool
        What the sheet says: the pieces' masses, their dwell, how many they are.
    """

    trace: BathTrace
    begins: str
    ends: str
    nexts_s: tuple[float, ...]
    weighed: bool
    planned: bool
    counted: bool

    @property
    def visible(self) -> tuple[TrueImmersion, ...]:
        """The immersions that the scale can have seen.

        Not those that lie wholly within one gap, or in one with which the readings end; a piece
        that came out in such a one is still in.
        """
        last_s, gaps_s = float(self.trace.t_s[-1]), self.trace.truth.gaps_s
        seen = []
        for one in self.trace.truth.immersions:
            in_s, out_s = one.in_s, one.out_s
            if in_s is None or in_s > last_s:
                continue
            if out_s is not None and any(a <= in_s and out_s <= b for a, b in gaps_s):
                continue
            seen.append(one if out_s is None or out_s <= last_s else replace(one, out_s=None))
        return tuple(seen)


def clumsy_bath(seed: int, scene: Scene | None = None) -> ClumsyBath:
    """Play one session.

    Parameters
    ----------
    seed : int
        Decides everything that the scene leaves open.
    scene : Scene, optional
        What is fixed.
    """
    rng = np.random.default_rng([seed, 41])
    open_scene = scene or Scene(
        slow=float(rng.choice([0.0, 0.3, 1.0])),
        spacing_s=(14.0, 40.0),
        gaps=int(rng.choice([0, 1, 2, 3])),
        gap_s=(3.0, 60.0),
        tares=0,
    )
    trace = bath_trace(seed, replace(open_scene, in_at_start=0))
    ins_s = sorted(i.in_s for i in trace.truth.immersions if i.in_s is not None)
    outs_s = sorted(i.out_s for i in trace.truth.immersions if i.out_s is not None)
    begins, ends = str(rng.choice(BEGINS)), str(rng.choice(ENDS))
    return ClumsyBath(
        trace=trace,
        begins=begins,
        ends=ends,
        nexts_s=_nexts_s(begins, ends, ins_s, outs_s, float(trace.t_s[-1]), rng),
        weighed=bool(rng.random() < 0.6),
        planned=bool(rng.random() < 0.7),
        counted=bool(rng.random() < 0.7),
    )


def _nexts_s(
    begins: str,
    ends: str,
    ins_s: list[float],
    outs_s: list[float],
    until_s: float,
    rng: np.random.Generator,
) -> tuple[float, ...]:
    first_s, last_in_s = ins_s[0], ins_s[-1]
    last_out_s = outs_s[-1] if outs_s else until_s
    soon_s = max(1.5, first_s - float(rng.uniform(2.0, 9.0)))
    begun = {
        "in time": [soon_s],
        "early": [1.5],
        "late": [float(rng.uniform(first_s, last_in_s + 5.0))],
        "after all were in": [float(rng.uniform(last_in_s + 3.0, max(last_in_s + 4.0, outs_s[0])))],
        "twice": [soon_s, soon_s + float(rng.uniform(0.3, 1.4))],
        "never": [],
    }[begins]
    ended = []
    if ends == "in time" and last_out_s + 8.0 < until_s:
        ended = [last_out_s + 8.0]
    elif ends == "early":
        ended = [float(rng.uniform(max(last_in_s, *begun) + 5.0, last_out_s))] if begun else []
    if begins == "twice":
        ended = []  # the second press has ended it already
    if begins == "never":
        ended = []
    return (0.5, *begun, *ended)

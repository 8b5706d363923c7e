"""The cook who writes a script: a clock that wanders, words, stages, probes that are moved.

Pure and seeded. The modules in ``kinds`` say what is done with it.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from logger.model.kinds.registry import Stage
from logger.virtual.batch.acts import Place, Script, StageSpan
from logger.virtual.batch.circumstances import Circumstances


class Cook:
    """Writes a script act by act; ``now`` is where the cook is [s]."""

    def __init__(self, batch: Circumstances) -> None:
        self.batch = batch
        self.rng = np.random.default_rng([batch.seed, 3])
        self.script = Script(circumstances=batch)
        self.now = 0.0
        for probe, place in (
            ("fat", "fat"),
            ("water", "water"),
            ("emulsion", "air"),
            ("bath", "air"),
            ("core", "air"),
        ):
            self.move(probe, place)  # type: ignore[arg-type]  # each is one of the names
        self.script.surroundings.append((0.0, "board", batch.room_c, 12.0))

    def takes(self, seconds: float, wander: float = 0.15) -> None:
        """Let about that long pass.

        Parameters
        ----------
        seconds : float
            Usual time [s].
        wander : float
            How far off it may be, as a share of it [1], 0 to below 1.
        """
        self.now += seconds * float(self.rng.uniform(1.0 - wander, 1.0 + wander))

    def move(self, probe: str, place: Place) -> None:
        """Put a probe somewhere."""
        self.script.places.append((self.now, probe, place))

    def say(self, kind: str, **data: Any) -> None:
        """Say something to the recorder."""
        self.script.words.append((self.now, kind, data))

    def begin(self, stage: Stage) -> None:
        """End the stage under way and begin another; the first begins with the run, unsaid."""
        stages = self.script.stages
        if stages:
            self.takes(1.5)
            self.say("next", stage=stage.id)
            stages[-1] = replace(stages[-1], end_s=self.now)
        stages.append(StageSpan(id=stage.id, kind=stage.kind, start_s=self.now, end_s=self.now))

    def finished(self) -> Script:
        """End the run; return the script."""
        script, last = self.script, self.script.stages[-1]
        self.takes(4.0)
        script.stages[-1] = replace(last, end_s=self.now)
        script.end_s = self.now
        self.say("run_end")
        script.words.sort(key=lambda word: word[0])
        return script


def clear_bench(cook: Cook, on_g: float) -> None:
    """Take everything off the bench scale, which holds `on_g` [g], and clear its tare."""
    cook.script.bench.put(cook.now, -on_g, 0.4)
    cook.takes(3.0)
    cook.script.bench.tares_s.append(cook.now)


def bath_is_ready(cook: Cook) -> None:
    """Put the bath in its tray on the bath scale, with its probe."""
    cook.script.bath_from_s = cook.now
    cook.move("bath", "bath")

"""Random acts with random corrections: the engine at once, the run worked out again and a replay
come to the same.

The stream is fed live with each correction named as the recorder names it; the other time all
events are corrected first. Where a correction takes working out the run again the live engine
starts over, as the recorder does.
"""

import dataclasses
import random

import pytest

from logger.control.requests import Move, Undo
from logger.model.errors import InputError
from logger.model.event import LAST_ACTS, Event
from logger.model.files import sheet_from_text
from logger.model.history import corrected
from logger.model.reading import Reading
from logger.recorder.corrections.naming import correction
from logger.watch.engine.engine import SECOND_NS, Engine
from logger.watch.engine.merge import order

S = SECOND_NS
STAGES = ("weigh", "warm", "pour", "rinse", "dry", "rest")
SHEET = '[sheet]\nname = "Roll"\n' + "".join(
    f'[[stage]]\nid = "{stage}"\nkind = "rinse"\n' for stage in STAGES
)
LASTS_S = 240


class Hands:
    """Somebody who does and corrects things at random, with an engine that follows live."""

    def __init__(self, seed, bench):
        self.chance = random.Random(seed)
        self.made = lambda: Engine(sheet_from_text(SHEET, "roll"), bench, correctors={})
        self.engine = self.made()
        self.events: list[Event] = []
        self.readings: list[Reading] = []
        self.again = 0

    def say(self, event):
        event = dataclasses.replace(event, seq=len(self.events) + 1)
        self.events.append(event)
        return event

    def live(self):
        """Play the run second by second, with something done every few seconds."""
        self.say(Event(t_ns=0, kind="run_start", source="operator"))
        self.engine.feed([self.events[0]], 0)
        for second in range(1, LASTS_S):
            t_ns = second * S
            self.readings += [Reading("bath", t_ns + 1000, 18.0 + 0.1 * (second % 7), 0.3)]
            did = []
            if self.chance.random() < 0.25:
                did = [self._act(t_ns)]
            elif self.chance.random() < 0.1:
                did = self._correct(t_ns)
            self.engine.feed([*did, self.readings[-1]], t_ns + S - 1)
        return self.engine.finish(LASTS_S * S)

    def _act(self, t_ns):
        kind = self.chance.choice(["next", "mark", "mark", "piece_in", "stage", "stage at"])
        data = {}
        if kind == "piece_in":
            data = {"piece": self.chance.randint(1, 4)}
        if kind.startswith("stage"):
            data = {"stage": self.chance.choice(STAGES)}
        if kind == "stage at":
            data["at_ns"] = self.chance.randrange(t_ns)
        kind = kind.split()[0]
        return self.say(Event(t_ns=t_ns, kind=kind, source="operator", data=data))

    def _correct(self, t_ns):
        acts = sorted(self.engine.results().acts, key=lambda act: act.at_ns)
        if not acts:
            return []
        act = self.chance.choice(acts[-LAST_ACTS:])
        to_s = round(max(0.0, act.t_s + self.chance.uniform(-20, 20)), 3)
        asked = Undo(event=act.event) if self.chance.random() < 0.5 else None
        asked = asked or Move(event=act.event, to_s=to_s)
        try:
            event = correction(asked, acts, t_ns=t_ns, last_s=t_ns / S, utc_ns=0)
        except InputError:
            return []
        at_once = isinstance(asked, Undo) and self.engine.takes_back(act.at_ns, t_ns)
        if at_once:
            return [self.say(event)]
        event.data["again"] = True
        self.say(event)
        self.again += 1
        self.engine = self.made()
        readings = [r for r in self.readings if r.t_ns < t_ns]
        self.engine.feed(self.stream(readings), t_ns - 1)
        return []

    def stream(self, readings):
        """Return readings and events in order, all corrections made."""
        return sorted([*corrected(self.events), *readings], key=order)

    def replayed(self):
        engine = self.made()
        engine.feed(self.stream(self.readings), LASTS_S * S - 1)
        return engine.finish(LASTS_S * S)


@pytest.mark.parametrize("seed", [*range(4), 22, 28])
def test_what_was_corrected_in_any_order_comes_to_the_same_in_a_replay(seed, counting_bench):
    hands = Hands(seed, counting_bench)
    live, again = hands.live(), hands.replayed()
    assert [(s.id, s.start_s, s.end_s) for s in live.stages] == [
        (s.id, s.start_s, s.end_s) for s in again.stages
    ]
    for table in ("acts", "findings", "immersions", "notes", "alarms", "gaps"):
        assert getattr(live, table) == getattr(again, table), table
    assert hands.again > 0
    assert any(e.kind == "undo" and "again" not in e.data for e in hands.events)

"""A pour outside its stage: offered while it goes on and afterwards, whole once it is taken."""

import numpy as np
import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.watch.engine.engine import SECOND_NS, Engine
from tests.watch.ingredients import FAT_AND_STOCK, HEAD
from tests.watch.stages.emulsify.combining import poured_g
from tests.watch.watched import Watched

STAGES = """
[[stage]]
id = "warm"
kind = "heat"
[[stage]]
id = "combine"
kind = "emulsify"
mass = { low = "174 g", high = "186 g" }
[[stage]]
id = "shape"
kind = "form"
"""


class Run(Watched):
    """180 g of fat from 30 s to 150 s, unless said, into 330 g of stock in a bowl of 370 g."""

    def __init__(self, pour=poured_g, start_g=700.0):
        sheet = sheet_from_text(HEAD + FAT_AND_STOCK + STAGES, "roll.sheet.toml")
        self.engine = Engine(sheet, bench_of_roles(["bowl_scale"]), correctors={})
        self.pour, self.start_g, self.t_s, self.said = pour, start_g, 0, []
        self.act("next")

    def act(self, kind, **data):
        event = Event(t_ns=self.t_s * SECOND_NS, kind=kind, source="operator", data=data)
        self.engine.feed([event], event.t_ns)
        return self

    def read(self, until_s):
        noise = np.random.default_rng(self.t_s + 1)
        items = [
            Reading(
                "bowl_scale",
                k * SECOND_NS // 4,
                round(self.start_g + self.pour(k / 4.0) + noise.normal(0.0, 0.05), 1),
                0.1,
            )
            for k in range(self.t_s * 4, until_s * 4)
        ]
        self.t_s = until_s
        self.said += self.engine.feed(items, until_s * SECOND_NS)
        return self

    @property
    def offers(self):
        return [p for p in self.state.proposals if p.what == "begin_stage"]

    @property
    def stages(self):
        return [(r.id, r.start_s) for r in self.engine.results().stages]

    def mass_found(self):
        (found,) = [f for f in self.engine.results().findings if f.key == "emulsify.poured_g"]
        return found


@pytest.mark.parametrize("taken_s", [60, 240])
def test_a_pour_before_its_stage_is_offered_and_whole_once_it_is_taken(taken_s):
    run = Run().read(taken_s)
    (offer,) = run.offers
    if taken_s == 60:
        assert "g has been going on since 0:3" in offer.text
    else:
        assert offer.text.startswith("180 g were poured from 0:3")
    assert [e.kind for e in run.said].count("proposal") == 1, "said once, however long it goes on"
    run.act("accept", proposal=offer.id)
    assert run.offers == []
    assert run.stages[1] == ("combine", pytest.approx(27.0, abs=1.5))
    run.read(max(taken_s, 180) + 5).act("next").read(run.t_s + 3)
    (row,) = run.engine.results().pours
    assert (row.start_s, row.end_s) == (pytest.approx(30.0, abs=1.5), pytest.approx(150.0, abs=1.5))
    assert run.mass_found().value == pytest.approx(180.0, abs=0.6)


def test_a_stage_that_was_begun_after_its_pour_is_asked_whether_it_began_then():
    run = Run().read(220).act("next").read(224)
    (offer,) = run.offers
    assert offer.text.endswith("Did Emulsify begin then?")
    run.act("accept", proposal=offer.id).read(228)
    assert run.stages == [("warm", 0.0), ("combine", pytest.approx(27.0, abs=1.5))]
    assert run.engine.results().pours[0].mass_g == pytest.approx(180.0, abs=0.6)


def test_a_stage_begun_while_its_pour_goes_on_has_all_of_it_and_asks_nothing():
    run = Run().read(60).act("next").read(75)
    assert run.offers == []
    assert run.engine.results().pours[0].start_s == pytest.approx(30.0, abs=1.5)


def test_a_stage_that_was_passed_by_is_offered_when_its_pour_comes():
    """*Next* was pressed twice."""
    run = Run().read(10).act("next").read(12).act("next").read(200)
    (offer,) = run.offers
    assert offer.data["stage"] == "combine"
    run.act("accept", proposal=offer.id).read(205).act("next").read(210)
    assert run.mass_found().value == pytest.approx(180.0, abs=0.6)
    assert run.mass_found().verdict == "met"


def test_a_stage_that_is_begun_once_more_keeps_what_was_poured_in_it():
    """120 g; the stage is ended; 60 g after a long rest."""

    def pour(t_s):
        return float(np.clip((t_s - 30.0) * 1.5, 0.0, 120.0) + np.clip(t_s - 200.0, 0.0, 60.0))

    run = Run(pour).read(5).act("next").read(145).act("next").read(230)
    (offer,) = run.offers
    run.act("accept", proposal=offer.id).read(280).act("next").read(282)
    assert [r.mass_g for r in run.engine.results().pours] == pytest.approx([180.0], abs=0.8)
    assert run.mass_found().value == pytest.approx(180.0, abs=0.8)


@pytest.mark.parametrize(
    "pour",
    [
        lambda t_s: 45.0 if t_s >= 40.0 else 0.0,
        lambda t_s: float(np.clip((t_s - 30.0) * 4.0, 0.0, 330.0)),
        lambda t_s: float(np.clip((t_s - 30.0) * 1.5, 0.0, 8.0)),
    ],
    ids=["a thing put in", "more than there was of it", "next to nothing"],
)
def test_what_is_no_pour_of_the_stage_is_not_offered(pour):
    assert Run(pour).read(160).offers == []


def test_what_comes_into_an_empty_bowl_is_not_what_is_poured_into_the_other_phase():
    """A bowl of 240 g: less than four fifths of the stock that is to be in it."""
    run = Run(lambda t_s: float(np.clip((t_s - 30.0) * 3.0, 0.0, 330.0)), start_g=240.0)
    for until_s in (50, 70, 90, 160):
        assert run.read(until_s).offers == []


def test_a_yes_while_the_other_phase_is_poured_loses_nothing_of_what_follows():
    """The scale was tared with the empty bowl, and nobody can tell stock from fat yet."""

    def pour(t_s):
        return float(np.clip((t_s - 30.0) * 4.0, 0.0, 330.0) + np.clip(t_s - 150.0, 0.0, 180.0))

    run = Run(pour, start_g=0.0).read(60)
    (offer,) = run.offers
    run.act("accept", proposal=offer.id).read(140).act("next").read(355)
    (offer,) = run.offers
    run.act("accept", proposal=offer.id).read(360).act("next").read(362)
    assert run.mass_found().value == pytest.approx(180.0, abs=0.8)
    assert run.mass_found().verdict == "met"


@pytest.mark.parametrize(("next_s", "begins_s"), [(20, 27.0), (29, 29.0)])
def test_a_stage_begins_three_seconds_before_its_pour_but_after_what_was_said(next_s, begins_s):
    run = Run().read(next_s).act("stage", stage="warm").read(60)
    (offer,) = run.offers
    assert offer.data["at_ns"] / SECOND_NS == pytest.approx(begins_s, abs=0.8)
    assert offer.data["at_ns"] > next_s * SECOND_NS

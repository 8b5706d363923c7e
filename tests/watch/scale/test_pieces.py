"""Which numbers and masses are those of a piece, and how its size follows from its mass."""

import math
from dataclasses import replace

import pytest

from logger.model.event import Event
from logger.science.gel.coating import Body
from logger.watch.engine.contract import Batch
from logger.watch.scale import pieces


@pytest.mark.parametrize(
    ("value", "number"),
    [(1, 1), (500, 500), (0, None), (501, None), (-1, None), (True, None), (2.0, None),
     ("3", None), (None, None)],
)  # fmt: skip
def test_a_piece_has_a_whole_number_up_to_five_hundred(value, number):
    assert pieces.number_of(value) == number


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"piece": 2, "mass_g": 71.5}, (2, 71.5)),
        ({"piece": 2, "mass_g": 71}, (2, 71.0)),
        ({"piece": 2, "mass_g": 0.0}, None),
        ({"piece": 2, "mass_g": -1.0}, None),
        ({"piece": 2, "mass_g": 99_999.0}, (2, 99_999.0)),
        ({"piece": 2, "mass_g": 100_000.0}, None),
        ({"piece": 2, "mass_g": True}, None),
        ({"piece": 2, "mass_g": "71"}, None),
        ({"piece": 0, "mass_g": 71.0}, None),
        ({"piece": 2}, None),
    ],
)
def test_a_mass_by_hand_is_above_nothing_and_below_a_hundred_kilograms(data, said):
    event = Event(t_ns=0, kind="register_piece", source="operator", data=data)
    assert pieces.registered_by_hand(event) == said
    assert pieces.registered_by_hand(replace(event, kind="note")) is None


BODY = Body(shape="patty", diameter_mm=20.0, length_mm=100.0)


def test_a_shape_weighs_its_volume_at_1050_kg_m3():
    """A disc: pi * 1 cm2 * 10 cm = 31.4 cm3. The density is from memory."""
    assert pieces.likely_mass_g(BODY) == pytest.approx(math.pi * 10.0 * 1.05)
    assert pieces.likely_mass_g(None) is None


def test_all_lengths_go_with_the_cube_root_of_mass_from_three_pieces_on():
    """Eight times the mean mass is twice as long."""
    found = pieces.sized(BODY, 80.0, [10.0, 10.0, 10.0])
    assert (found.diameter_mm, found.length_mm) == pytest.approx((40.0, 200.0))
    assert pieces.sized(BODY, 80.0, [10.0, 10.0]) == BODY
    assert pieces.sized(BODY, None, [10.0, 10.0, 10.0]) == BODY


def test_the_table_of_pieces_is_by_number():
    batch = Batch()
    pieces.facts_of(batch, 3).bare_mass_g = 70.0
    pieces.facts_of(batch, 1).coat_mm = 0.5
    pieces.facts_of(batch, 3).dwell_s = 400.0
    rows = pieces.rows(batch)
    assert [r.piece for r in rows] == [1, 3]
    assert (rows[1].bare_mass_g, rows[1].dwell_s, rows[0].coat_mm) == (70.0, 400.0, 0.5)

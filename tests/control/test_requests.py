"""Each request is checked at the door, so that no wrong type reaches the engine or the disk."""

import pytest

from logger.control.door import REQUESTS, request_of
from logger.control.messages import ASKS, decode
from logger.control.requests import Act
from logger.model.errors import InputError
from logger.model.event import OPERATOR_KINDS

ANSWERED_AT_ONCE = {"ping", "state", "describe"}


def test_everything_that_can_be_asked_has_its_model():
    asked = (set(ASKS) | set(OPERATOR_KINDS)) - ANSWERED_AT_ONCE - {"run_start"}
    assert set(REQUESTS) == asked


@pytest.mark.parametrize(
    ("do", "data", "says"),
    [
        ("outcome", {"outcome": "perfect"}, "outcome is 'perfect'"),
        ("outcome", {"defects": "burst"}, "defects is 'burst'; give a list"),
        ("outcome", {"defects": [3]}, "give text"),
        ("outcome", {"defects": {"a": 1}}, "give a list"),
        ("outcome", {"pieces": [{"piece": 0}]}, "give a number of at least 1"),
        ("outcome", {"pieces": [{"piece": 501}]}, "give at most 500"),
        ("outcome", {"pieces": [{"piece": 3, "defects": [1]}]}, "give text"),
        ("set_value", {"name": "mass_g.salt", "value": 7.5, "unit": "degC"}, "which is in g"),
        ("set_value", {"name": "mass_g.salt", "value": 7.5, "unit": "g**9"}, "which is in g"),
        ("set_value", {"name": "shade", "value": 7.5, "unit": "g"}, "leave the unit out"),
        ("register_piece", {"piece": True, "mass_g": 3}, "piece is True; give a whole number"),
        ("register_piece", {"piece": 1}, "mass_g is None; give it"),
        ("register_piece", {"piece": 1, "mass_g": float("nan")}, "give a finite number"),
        ("register_piece", {"piece": 1, "mass_g": 10**400}, "mass_g is 1000"),
        ("confirm_piece", {"immersion": -1, "piece": 1}, "give a number of at least 0"),
        ("shelve", {"alarm": "a", "for_s": "long"}, "for_s is 'long'; give a number"),
        ("ack", {"alarm": ""}, "give some text"),
        ("note", {"text": "x" * 4001}, "give a shorter text"),
        ("mark", {"pice": 3}, "'pice' is unknown; it takes text, piece"),
        ("start", {"sheet": 5}, "sheet is 5; give text"),
        ("save_sheet", {"name": [], "sheet": ""}, "name is []; give text"),
        ("run_start", {}, "is not a command"),
        ("stop", {}, "is not a command"),
    ],
)
def test_a_wrong_request_is_refused_with_its_key_and_what_was_found(do, data, says):
    with pytest.raises(InputError) as refused:
        request_of(do, data)
    assert says in str(refused.value)


def test_an_act_keeps_what_was_sent_and_nothing_more():
    act = request_of("outcome", {"run": "r", "outcome": "accepted", "text": "fine"})
    assert isinstance(act, Act)
    assert act.data() == {"outcome": "accepted"}
    assert act.text == "fine"
    assert request_of("mark", {}).data() == {}
    pieces = [{"piece": 3, "defects": ["skin burst"]}]
    assert request_of("outcome", {"pieces": pieces}).data() == {"pieces": pieces}


HOSTILE = [
    b'{"do": "mark", "do": "note"}',
    b'{"data": {"piece": 1, "piece": 2}}',
    b'{"data": {"mass_g": NaN}}',
    b'{"data": {"mass_g": -Infinity}}',
    b'{"data": {"piece": ' + b"9" * 5_000 + b"}}",
    b'{"data": ' + b'{"a":' * 5_000 + b"1" + b"}" * 5_001,
    b'{"data": {"text": "\\ud800"}}',
]


@pytest.mark.parametrize("line", HOSTILE, ids=range(len(HOSTILE)))
def test_a_line_that_could_be_read_in_two_ways_or_not_at_all_is_refused(line):
    with pytest.raises(InputError, match="control line"):
        decode(line)


@pytest.mark.usefixtures("little_work")
@pytest.mark.parametrize("do", sorted(REQUESTS))
def test_a_request_with_a_million_parts_is_refused_in_a_short_line(do):
    many = {str(n): n for n in range(200_000)}
    deep = []
    for _ in range(900):
        deep = [deep]
    for data in (many, *({key: deep} for key in REQUESTS[do].model_fields),
                 *({key: [1] * 100_000} for key in REQUESTS[do].model_fields)):  # fmt: skip
        with pytest.raises(InputError) as refused:
            request_of(do, data)
        assert len(str(refused.value)) < 400


@pytest.mark.parametrize(
    ("name", "value", "unit", "kept"),
    [
        ("mass_g.calcium chloride", 0.02, "kg", 20.0),
        ("mass_g.oil", 1.0, "oz", 28.349523125),  # NIST SP 811, appendix B.8
        ("room_c", 68.0, "degF", 20.0),
        ("mass_g.oil", 180.0, "g", 180.0),
    ],
)
def test_a_typed_value_is_kept_in_the_unit_of_its_name(name, value, unit, kept):
    data = request_of("set_value", {"name": name, "value": value, "unit": unit}).data()
    assert data["value"] == pytest.approx(kept)
    assert data["unit"] == ("degC" if name == "room_c" else "g")

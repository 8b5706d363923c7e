"""What an operator did has one name everywhere."""

import pytest

from logger.model.event import ACTS
from logger.model.history import ActRow
from logger.words.acts import act_name, act_text, before_text, moved_text, taken_back_text


def act(kind="mark", **more):
    return ActRow(at_ns=1, kind=kind, t_s=724.0, **more)


@pytest.mark.parametrize(
    ("row", "name"),
    [
        (act("next", begins="Warm both", ends="Weigh in"), "start of Warm both"),
        (act("next", ends="Rinse"), "end of Rinse"),
        (act("piece_in", piece=2), "piece 2 in"),
        (act("piece_out", piece=2), "piece 2 out"),
        (act("mark"), "mark"),
        (act("mark", piece=3), "mark 3"),
        (act("confirm_piece", piece=3), "confirmed piece 3"),
        (
            act("accept", text="Was that piece 3 that came out at 9:12, after 2 min? It may have"),
            "yes to “Was that piece 3 that came out at 9:12, after 2 min?”",
        ),
        (act("decline", text="Bowl scale: tared? It went"), "no to “Bowl scale: tared?”"),
        (act("accept", text="All pieces are out.", begins="Rinse"), "start of Rinse"),
        (act("stage", begins="Rinse", first_s=730.0), "earlier start of Rinse"),
    ],
)
def test_an_act_is_named_by_what_it_did(row, name):
    assert act_name(row) == name


def test_every_act_has_a_name_of_its_own():
    assert all("_" not in act_name(act(kind)) for kind in ACTS)


def test_an_act_is_told_with_its_time_before_and_after():
    row = act("next", begins="Pour the fat in")
    assert act_text(row) == "start of Pour the fat in, 12:04"
    assert taken_back_text(row) == "Taken back: start of Pour the fat in, 12:04"
    earlier = act("stage", begins="Rinse", first_s=738.0, was_s=762.0, said_later=True)
    assert taken_back_text(earlier) == (
        "Taken back: earlier start of Rinse, 12:04; it begins at 12:18 again"
    )
    assert before_text(earlier) == "first at 12:18"
    assert before_text(act("stage", was_s=762.0, said_later=True)) == "said at 12:42"
    assert before_text(act("mark", was_s=762.0)) == "first at 12:42"
    assert before_text(row) == ""
    assert moved_text(row, 701.0) == "Moved: start of Pour the fat in, from 12:04 to 11:41"

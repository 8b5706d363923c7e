"""A correction names its act, and what its time could not mean is refused in words."""

import pytest

from logger.control.requests import Move
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.history import ActRow
from logger.model.rows import ImmersionRow
from logger.recorder.corrections.naming import correction
from logger.recorder.live.latest import LatestState
from logger.recorder.live.writer import Writer
from logger.store.folder.datafolder import DataFolder

BY_HAND = {"dwell_s": 67.0, "by_hand": True}


def moved(kind, t_s, to_s, *rows):
    act = ActRow(event=7, at_ns=1, kind=kind, t_s=t_s, piece=2)
    return correction(
        Move(event=7, to_s=to_s), [act], t_ns=10**12, last_s=600.0, utc_ns=0, immersions=rows
    )


def row(piece, in_s, out_s, **more):
    return ImmersionRow(immersion=piece, piece=piece, in_s=in_s, out_s=out_s, **more)


@pytest.mark.parametrize(
    ("kind", "t_s", "to_s", "says"),
    [
        ("piece_out", 201.0, 60.0, "1:00 is before piece 2 went in, 2:14"),
        ("piece_out", 201.0, 134.0, "2:14 is before piece 2 went in, 2:14"),
        ("piece_in", 134.0, 240.0, "4:00 is after piece 2 came out, 3:21"),
    ],
)
def test_a_piece_cannot_come_out_before_it_went_in(kind, t_s, to_s, says):
    for more in (BY_HAND, {}):
        with pytest.raises(InputError, match=says):
            moved(kind, t_s, to_s, row(2, 134.0, 201.0, **more))


def test_a_time_said_by_hand_is_moved_within_what_is_possible():
    by_hand = row(2, 134.0, 201.0, **BY_HAND)
    assert moved("piece_out", 201.0, 190.0, by_hand).data["to_s"] == 190.0
    assert moved("piece_in", 134.0, 120.0, by_hand).data["to_s"] == 120.0
    assert moved("piece_out", 201.0, 190.0).data["to_s"] == 190.0


def test_what_the_scale_timed_keeps_its_time_unless_another_piece_was_meant():
    seen = row(2, 134.0, 201.0), row(1, 130.0, 170.0)
    with pytest.raises(InputError, match="by the scale, piece 2 came out at 3:21"):
        moved("piece_out", 203.0, 220.0, *seen)
    with pytest.raises(InputError, match="by the scale, piece 2 went in at 2:14"):
        moved("piece_in", 136.0, 100.0, *seen)
    assert moved("piece_out", 203.0, 168.0, *seen).data["to_s"] == 168.0
    hidden = row(2, 134.0, None, out_between_s=(200.0, 230.0))
    assert moved("piece_out", 203.0, 220.0, hidden).data["to_s"] == 220.0


def test_a_yes_that_began_a_stage_keeps_the_number_of_its_event(tmp_path):
    writer = Writer(LatestState(lambda: None), DataFolder(tmp_path))
    writer._note_written([(Event(t_ns=5, kind="accept", source="operator"), 12)])
    assert writer.number_of(5, "stage") == 12

"""A file of events is held to the checks of the control line."""

import pytest

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.sheet import Sheet
from logger.recorder.replay.acts_of_file import ActsOfFile
from logger.store.exchange.importing import read_csv

SHEET = Sheet.model_validate(
    {
        "sheet": {"name": "T", "defects": ["raw", "greasy"]},
        "stage": [{"id": "c", "kind": "cook"}, {"id": "k", "kind": "hold"}],
    }
)


def read(tmp_path, rows: str) -> list[Event]:
    path = tmp_path / "e.csv"
    path.write_text("time_s,event,text\n" + rows)
    return read_csv("time_s,core [degC]\n0,20\n9,21\n", path, check=ActsOfFile(SHEET)).events


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("5,outcome,perfect\n", "row 2, .*outcome is 'perfect'.*accepted"),
        ("5,outcome,\n", "row 2, .*write 'accepted'"),
        (
            "5,outcome,rejected: ugly\n",
            "row 2, .*'ugly' is not in the sheet; the sheet lists raw, greasy",
        ),
        ("5,outcome,accepted: raw\n", "a batch with defects that is accepted"),
        ("0,next,\n5,piece_in,99999999999\n", "row 3, .*give at most 500"),
        ("5,piece_in:99999999999,\n", "row 2, .*give at most 500"),
        ("6,piece_out,-1\n", "give a number of at least 1"),
        ("6,piece_out,third\n", "write piece_out:3"),
        ("1,set_value,fat=5\n", "name is None; give it.*write data such as"),
        ("0,next,\n5,undo,\n6,undo,\n", "row 4, .*nothing to take back"),
        ("5,run_end,\n6,next,\n", "row 3, .*next after run_end"),
        ("6,next,\n5,run_end,\n", "row 2, .*next after run_end"),
        ("1,stage:nope,\n", "row 2, .*no stage 'nope'; stages are c, k"),
    ],
)
def test_an_act_that_the_recorder_would_refuse_is_refused_with_its_row(tmp_path, rows, says):
    with pytest.raises(InputError, match=f"e.csv: {'' if says.startswith('row') else '.*'}{says}"):
        read(tmp_path, rows)


def test_an_outcome_and_a_piece_count_as_they_are_written(tmp_path):
    events = read(
        tmp_path,
        "0,next,\n1,piece_in,2\n2,undo,\n3,piece_out:7,\n7,run_end,\n8,outcome,accepted\n"
        "9,outcome,rejected: raw, greasy\n".replace(
            "rejected: raw, greasy", '"rejected: raw, greasy"'
        ),
    )
    assert [e.data for e in events if e.data] == [
        {"piece": 2},
        {"piece": 7},
        {"outcome": "accepted"},
        {"outcome": "rejected", "defects": ["raw", "greasy"]},
    ]

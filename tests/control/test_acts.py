"""One check of what an act says against the sheet, whichever way it came."""

import pytest

from logger.control.acts import require_known
from logger.control.door import request_of
from logger.model.errors import InputError
from logger.model.sheet import Sheet

SHEET = Sheet.model_validate({"sheet": {"name": "T", "defects": ["raw"]}})


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (
            {"outcome": "rejected", "defects": ["ugly"]},
            "'ugly' is not in the sheet; the sheet lists raw",
        ),
        ({"outcome": "accepted", "defects": ["raw"]}, "a batch with defects that is accepted"),
        ({"defects": ["raw"]}, "reject it, or leave the defects out"),
        ({"pieces": [{"piece": 1, "defects": ["ugly"]}]}, "'ugly' is not in the sheet"),
    ],
)
def test_an_outcome_that_contradicts_the_sheet_or_itself_is_refused(data, says):
    with pytest.raises(InputError) as refused:
        require_known(request_of("outcome", data), SHEET)
    assert says in str(refused.value)


def test_an_outcome_that_fits_the_sheet_is_taken():
    for data in (
        {"outcome": "accepted", "pieces": [{"piece": 1, "defects": ["raw"]}]},
        {"outcome": "rejected", "defects": ["raw"]},
        {"outcome": "rejected", "defects": ["ugly"], "new_defects": ["ugly"]},
        {"new_defects": ["ugly"], "pieces": [{"piece": 1, "defects": ["ugly"]}]},
        {"outcome": None},
    ):
        require_known(request_of("outcome", data), SHEET)


@pytest.mark.parametrize(
    ("do", "more"),
    [
        ("mark", {}),
        ("piece_in", {}),
        ("piece_out", {}),
        ("register_piece", {"mass_g": 3.0}),
        ("confirm_piece", {"immersion": 1}),
    ],
)
@pytest.mark.parametrize("piece", [0, -1, 501, 2**31])
def test_a_piece_beyond_any_sheet_is_refused(do, more, piece):
    with pytest.raises(InputError, match=r"give a number of at least 1|give at most 500"):
        request_of(do, {"piece": piece, **more})

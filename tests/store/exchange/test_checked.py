"""A JSON export with any value of another kind is refused at its key, and leaves no run."""

import copy
import json

import pytest

from logger.model.errors import InputError
from logger.store.exchange.restoring import restore
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from tests.trust.badfiles.cases import exported


@pytest.fixture(scope="module")
def good():
    return exported()


def taken_in(folder, data):
    path = folder.path / "x.json"
    path.write_text(json.dumps(data))
    return restore(folder, path, edited=True).run_id


def leaves(value, path=()):
    """Yield the path of each value of an export, one of each list."""
    if isinstance(value, dict):
        for key, part in value.items():
            yield from leaves(part, (*path, key))
    elif isinstance(value, list) and value:
        yield from leaves(value[0], (*path, 0))
    else:
        yield path


def test_the_export_that_is_spoiled_below_is_good(tmp_path, good):
    folder = DataFolder(tmp_path)
    assert folder.run_ids() == [] != [taken_in(folder, good)]


WRONG = ["x", -1, [], {"a": 1}, True, 10**40, 1.5, "\ud800", None]


@pytest.mark.parametrize("wrong", WRONG)
def test_whatever_stands_in_place_of_a_value_no_run_is_hidden(tmp_path, good, wrong):
    """Each place of the head, of a reading, an event and raw bytes gets three values of others."""
    folder = DataFolder(tmp_path)
    head = {k: v for k, v in good.items() if k != "results"}
    places = [p for p in leaves(head) if p[:2] != ("readings", 1)]
    assert len(places) > 40
    places = places[WRONG.index(wrong) % 3 :: 3]
    refused = 0
    for place in places:
        data = copy.copy(good)
        here = data
        for key in place[:-1]:
            here[key] = copy.copy(here[key])
            here = here[key]
        here[place[-1]] = wrong
        before = set(folder.run_ids())
        try:
            taken_in(folder, data)
        except InputError as said:
            refused += 1
            line = str(said)
            assert set(folder.run_ids()) == before
        else:
            line = ""
        assert "\n" not in line
    assert refused > len(places) / 3
    assert all(e.status != "unreadable" for e in Catalog(folder).runs())
    assert not list(folder.runs.glob("*.new*"))


@pytest.mark.parametrize(
    ("place", "wrong", "says"),
    [
        (("findings", 0, "value"), "9", "findings.1.value"),
        (("findings", 0, "value"), True, "findings.1.value"),
        (("findings", 0, "key"), "x", "no name of a check"),
        (("findings", 0, "rule"), "../../x", "none of simple, guarded"),
        (("stages", 0, "end_s"), 1e30, "a time beyond"),
        (("stages", 0, "kind"), "boil", "not a stage of the run's sheet"),
        (("stages", 0, "id"), "x", "not a stage of the run's sheet"),
    ],
)
def test_a_result_of_another_type_or_name_is_refused_before_anything_is_written(
    tmp_path, good, place, wrong, says
):
    data = copy.deepcopy(good)
    table, row, key = place
    data["results"][table][row][key] = wrong
    folder = DataFolder(tmp_path)
    with pytest.raises(InputError) as refused:
        taken_in(folder, data)
    assert says in str(refused.value).replace("findings.0", "findings.1")
    assert folder.run_ids() == []


def test_corrected_values_that_are_no_numbers_are_refused(tmp_path, good):
    data = copy.deepcopy(good)
    next(iter(data["readings"].values()))["corrected"] = ["x"]
    with pytest.raises(InputError, match="not a list of numbers"):
        taken_in(DataFolder(tmp_path), data)

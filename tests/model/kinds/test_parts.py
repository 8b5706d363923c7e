"""The module of a kind's part is found by its place; an error inside it is no missing part."""

import sys

import pytest

from logger.model.errors import MissingPartError
from logger.model.kinds.record.parts import file_of, optional_part, part


@pytest.fixture
def room(tmp_path, monkeypatch):
    """A room ``made_up_room`` with a part of one kind, and a broken one of another."""
    folder = tmp_path / "made_up_room"
    folder.mkdir()
    (folder / "__init__.py").write_text("")
    (folder / "whole.py").write_text("SAYS = 'here'\n")
    (folder / "broken.py").write_text("import no_such_module_at_all\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    yield "made_up_room.{kind}"
    for name in [n for n in sys.modules if n.split(".")[0] == "made_up_room"]:
        del sys.modules[name]


def test_a_part_is_the_module_at_its_place(room):
    assert part("whole", "part", room).SAYS == "here"


def test_a_missing_part_is_named_with_its_file(room):
    assert optional_part("missing", room) is None
    with pytest.raises(MissingPartError, match=r"kind 'missing' has no part: made_up_room/missing"):
        part("missing", "part", room)


def test_a_part_whose_folder_is_missing_is_missing():
    assert optional_part("whole", "made_up_nowhere.{kind}.watcher") is None


def test_a_part_that_cannot_be_imported_is_broken_and_not_missing(room):
    with pytest.raises(ModuleNotFoundError, match="no_such_module_at_all"):
        optional_part("broken", room)


def test_a_place_names_its_file():
    assert file_of("unheard", "logger.here.{kind}.there") == "logger/here/unheard/there.py"

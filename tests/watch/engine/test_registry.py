"""Every kind of stage that a sheet may hold has a watcher of its own."""

import pytest

from logger.model.errors import MissingPartError
from logger.model.kinds.registry import KINDS
from logger.watch.engine import registry as kinds
from logger.watch.engine.plain import Plain
from tests.all_kinds import sheet_of_all_kinds


@pytest.fixture(scope="module")
def sheet():
    return sheet_of_all_kinds()


@pytest.mark.parametrize("kind", [k.name for k in KINDS])
def test_a_kind_has_its_own_watcher(kind, sheet, make_context):
    stage = next(s for s in sheet.stage if s.kind == kind)
    watcher = kinds.make(make_context(stage.id, sheet=sheet))
    assert type(watcher) is not Plain, "a stage that only keeps time"
    for member in ("reading", "event", "tick", "end", "view", "conditions", "finished"):
        assert callable(getattr(watcher, member))
    assert watcher.conditions() is not None
    assert watcher.finished() is None
    assert watcher.view(0) is not None


def test_a_watcher_of_a_stage_needs_a_stage(make_context):
    with pytest.raises(ValueError, match="needs a stage"):
        kinds.make(make_context())


def test_a_kind_without_a_watcher_is_named_with_the_file_it_needs():
    with pytest.raises(
        MissingPartError,
        match=r"kind 'unheard' has no watcher: logger/watch/stages/unheard/watcher\.py",
    ):
        kinds.maker("unheard")

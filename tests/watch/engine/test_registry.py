"""Every kind of stage that a sheet may hold has a watcher of its own."""

from typing import get_args

import pytest

from logger.model.sheet import Stage
from logger.watch.engine import registry as kinds
from logger.watch.engine.plain import Plain
from logger.watch.sensors.needs import NEEDED_ROLES

KINDS = [
    get_args(model.model_fields["kind"].annotation)[0] for model in get_args(get_args(Stage)[0])
]
SHEET = """
[sheet]
name = "Roll"
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
[[stage]]
id = "one"
kind = "{kind}"
{more}
"""


def test_there_are_thirteen_kinds():
    assert len(KINDS) == 13
    assert set(NEEDED_ROLES) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_has_its_own_watcher(kind, make_context):
    more = 'fat = "cocoa_butter"' if kind == "fat_curve" else ""
    watcher = kinds.make(make_context("one", sheet=SHEET.format(kind=kind, more=more)))
    assert type(watcher) is not Plain, "a stage that only keeps time"
    for member in ("reading", "event", "tick", "end", "view", "conditions", "finished"):
        assert callable(getattr(watcher, member))
    assert watcher.conditions() is not None
    assert watcher.finished() is None
    assert watcher.view(0) is not None


def test_a_watcher_of_a_stage_needs_a_stage(make_context):
    with pytest.raises(ValueError, match="needs a stage"):
        kinds.make(make_context())

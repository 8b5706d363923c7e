"""Each kind of stage has every part that the rooms want; a missing one is asked for by name."""

from collections.abc import Callable
from pathlib import Path
from typing import get_args

import pytest

from logger.model.bench import bench_of_roles
from logger.model.errors import MissingPartError
from logger.model.files import sheet_from_text
from logger.model.finding import Results
from logger.model.kinds.registry import KINDS, Kind, Stage, kind_named, target_of
from logger.review.features.facts import RunFacts
from logger.review.features.features import features
from logger.review.learn.sheets import template
from logger.review.plan.plan import plan
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.batch.circumstances import draw
from logger.virtual.batch.cook import Cook
from logger.virtual.batch.scenario import act_of
from logger.watch.engine import registry as watchers
from logger.words.labels import LABELS

ROOT = Path(__file__).resolve().parents[3]
OF_ALL = {"__init__", "registry"}
NAMES = sorted(p.stem for p in (ROOT / "logger/model/kinds").glob("*.py") if p.stem not in OF_ALL)
FATS = builtin_fats()


def wanted(kind: str, what: str, file: str) -> str:
    return str(MissingPartError(kind, what, file))


def record_of(name: str) -> Kind:
    found = kind_named(name)
    assert found is not None, wanted(
        name, "line in KINDS and in Stage", "logger/model/kinds/registry.py"
    )
    return found


def example_of(kind: Kind):
    head = template().partition("[[stage]]")[0]
    sheet = sheet_from_text(head + kind.example, f"example of {kind.name}")
    return sheet, sheet.stage[0]


def its_record(kind: Kind) -> None:
    models = get_args(get_args(Stage)[0])
    assert kind.model in models, wanted(
        kind.name, "line in Stage", "logger/model/kinds/registry.py"
    )
    assert get_args(kind.model.model_fields["kind"].annotation) == (kind.name,)
    fields = set(kind.model.model_fields)
    targets = [use.target for use in kind.uses] + [figure.target for figure in kind.figures]
    named = {t for t in (*targets, *kind.grows, kind.own_channel_target) if t is not None}
    named |= {"rule_set"} if kind.rule_sets else set()
    named |= {"channel"} if kind.own_channel_target else set()
    assert named <= fields, f"the record of {kind.name!r} names {sorted(named - fields)}"


def its_example(kind: Kind) -> None:
    _, stage = example_of(kind)
    assert stage.kind == kind.name
    assert stage.title, "a person reads it in a sheet"


def its_watcher(kind: Kind) -> None:
    package = f"logger/watch/stages/{kind.name}/__init__.py"
    assert (ROOT / package).exists(), wanted(kind.name, "package of its watcher", package)
    assert callable(watchers.maker(kind.name))


def its_acts(kind: Kind) -> None:
    if not kind.in_batch:
        return
    cook = Cook(draw(1))
    cook.begin(example_of(kind)[1])
    act_of(kind.name)(cook)
    assert cook.now > 0.0 or cook.script.dips, "something is done in it, and takes time"


def its_figures(kind: Kind) -> None:
    assert kind.figures or not kind.in_batch, wanted(
        kind.name, "figures", f"logger/model/kinds/{kind.name}.py"
    )
    sheet, stage = example_of(kind)
    facts = RunFacts(
        run_id="none", sheet=sheet, bench=bench_of_roles(["core"]), results=Results(),
        outcome=None, defects=(), read=lambda *_: pytest.fail("a stage that never ran"), fats=FATS,
    )  # fmt: skip
    found = {name for name, feature in features(facts).items() if feature.stage == stage.id}
    assert found == {figure.name for figure in kind.figures}


def its_labels(kind: Kind) -> None:
    for check in kind.checks:
        assert check.key in LABELS, wanted(
            kind.name, f"label of {check.key!r}", "logger/words/labels.py"
        )


def its_plan(kind: Kind) -> None:
    sheet, stage = example_of(kind)
    anywhere, bare = (plan(sheet, b, FATS) for b in (None, bench_of_roles(["other"])))
    assert len(bare.troubles) - len(anywhere.troubles) == bool(kind.needed_roles), "not measured"
    rows = {p.name for p in bare.predictions if p.stage == stage.id}
    assert rows >= {f"{stage.id}_{use.target}" for use in kind.uses if use.in_plan}


def its_targets(kind: Kind) -> None:
    """Those that are drawn with the traces."""
    _, stage = example_of(kind)
    for use in kind.uses:
        channel = bench_of_roles([use.role]).channel[0]
        drawn = target_of(stage, channel)
        assert drawn == (getattr(stage, use.target) if use.target else None)
        assert drawn is not None or use.target is None, f"the example shows no {use.target}"


PARTS: dict[str, Callable[[Kind], None]] = {
    "record": its_record,
    "example": its_example,
    "watcher": its_watcher,
    "acts": its_acts,
    "figures": its_figures,
    "labels": its_labels,
    "plan": its_plan,
    "targets": its_targets,
}


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("kind", NAMES)
def test_a_kind_has_its(part, kind):
    PARTS[part](record_of(kind))


def test_every_kind_has_a_module_of_its_name():
    assert [kind.name for kind in KINDS if kind.name not in NAMES] == []
    assert len({kind.name for kind in KINDS}) == len(KINDS)


@pytest.mark.parametrize(
    ("look_up", "says"),
    [
        (act_of, r"kind 'unheard' has no acts of the virtual bench: "
                 r"logger/virtual/batch/kinds/unheard\.py"),
        (watchers.maker, r"kind 'unheard' has no watcher: logger/watch/stages/unheard/watcher\.py"),
        (record_of, r"kind 'unheard' has no line in KINDS and in Stage: "
                    r"logger/model/kinds/registry\.py"),
    ],
)  # fmt: skip
def test_what_is_missing_is_asked_for_by_name(look_up, says):
    with pytest.raises((MissingPartError, AssertionError), match=says):
        look_up("unheard")

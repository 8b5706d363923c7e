"""Every kind of stage, in the order of the work: the only list of kinds in the house.

Pure look-ups. A new kind is a module beside this one and a line in each of the two lists below;
``tests/model/kinds`` then names the parts that other rooms want of it.
"""

from typing import Annotated, Union

from pydantic import Field

from logger.model.bench import Bench, Channel
from logger.model.kinds.chill import CHILL, ChillStage
from logger.model.kinds.coat import COAT, CoatStage
from logger.model.kinds.cook import COOK, CookStage
from logger.model.kinds.dry import DRY, DryStage
from logger.model.kinds.emulsify import EMULSIFY, EmulsifyStage
from logger.model.kinds.fat_curve import FAT_CURVE, FatCurveStage
from logger.model.kinds.form import FORM, FormStage
from logger.model.kinds.heat import HEAT, HeatStage
from logger.model.kinds.hold import HOLD, HoldStage
from logger.model.kinds.hydrate import HYDRATE, HydrateStage
from logger.model.kinds.record.kind import Kind
from logger.model.kinds.rinse import RINSE, RinseStage
from logger.model.kinds.set import SET, SetStage
from logger.model.kinds.weigh import WEIGH, WeighStage
from logger.model.kinds.work import WORK, WorkStage
from logger.model.written import Band

Stage = Annotated[
    Union[  # noqa: UP007 - one kind a line reads better than a chain of bars
        WeighStage,
        HydrateStage,
        HeatStage,
        EmulsifyStage,
        FormStage,
        ChillStage,
        CoatStage,
        SetStage,
        RinseStage,
        DryStage,
        CookStage,
        HoldStage,
        WorkStage,
        FatCurveStage,
    ],
    Field(discriminator="kind"),
]

KINDS: tuple[Kind, ...] = (
    WEIGH,
    HYDRATE,
    HEAT,
    EMULSIFY,
    FORM,
    CHILL,
    COAT,
    SET,
    RINSE,
    DRY,
    COOK,
    HOLD,
    WORK,
    FAT_CURVE,
)

_BY_NAME = {kind.name: kind for kind in KINDS}


def kind_of(stage: Stage) -> Kind:
    """Return the record of a stage's kind."""
    return _BY_NAME[stage.kind]


def kind_named(name: str) -> Kind | None:
    """Return the record of a kind by its name; None for a name that is no kind."""
    return _BY_NAME.get(name)


def title_of(stage: Stage) -> str:
    """Return what a stage is called: its title, else that of its kind."""
    return stage.title or kind_of(stage).title


def needed_channels(stage: Stage | None, bench: Bench) -> frozenset[str]:
    """Return the ids of the channels that a stage cannot do without."""
    if stage is None:
        return frozenset()
    found = {c.id for role in kind_of(stage).needed_roles if (c := bench.channel_of(role))}
    own = named_channel(stage)
    return frozenset(found | {own} if own is not None else found)


def named_channel(stage: Stage) -> str | None:
    """Return the id of the channel that a stage names itself, or None."""
    if kind_of(stage).own_channel_target is None:
        return None
    own: str | None = getattr(stage, "channel", None)
    return own


def target_of(stage: Stage | None, channel: Channel) -> Band | None:
    """Return the target of a channel in a stage, where the sheet gives one."""
    if stage is None:
        return None
    kind, named = kind_of(stage), named_channel(stage)
    own = named is not None and named == channel.id
    field = kind.own_channel_target if own else kind.target_of(channel.role)
    target: Band | None = getattr(stage, field) if field is not None else None
    return target

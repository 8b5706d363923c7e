"""Hot fat: its caution, and pieces that come to it wet.

Pure; used by logger.review.plan.batch_plan.
"""

from logger.model.kinds.record.stage import COMMON_PRACTICE
from logger.model.kinds.registry import Stage, kind_of
from logger.model.sheet import Sheet
from logger.review.plan.planned import Notebook

FRYING_CAUTION = (
    "A wet skin in hot fat spits and can burst: blot and dry it, pan at most half full, lower it "
    "slowly, prick it or cook it through with steam first."
)


def plan_stage(book: Notebook, sheet: Sheet, stage: Stage) -> None:
    """Say the caution once, and that wet pieces want drying first.

    Parameters
    ----------
    book : Notebook
        Takes what is found.
    sheet : Sheet
        All of it.
    stage : Stage
        The stage of this kind.
    """
    first = next(s for s in sheet.stage if s.kind == stage.kind)
    if stage.id != first.id:
        return
    book.cautions.append(FRYING_CAUTION)
    kinds = [kind_of(s) for s in sheet.stage]
    if any(k.leaves_wet for k in kinds) and not any(k.dries for k in kinds):
        book.trouble(
            "mind",
            "pieces go from bath or rinse to cooking without a drying stage",
            "add a dry stage before hot fat",
            COMMON_PRACTICE,
        )

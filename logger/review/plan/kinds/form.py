"""The pieces: whether there is enough for them.

Pure; used by logger.review.plan.batch_plan.
"""

from logger.batch.amounts import phase_g, pieces_of
from logger.model.kinds.form import FormStage
from logger.model.kinds.registry import Stage
from logger.model.sheet import Sheet
from logger.review.plan.planned import Notebook
from logger.words.values import exact_text, rounded_text


def plan_stage(book: Notebook, sheet: Sheet, stage: Stage) -> None:
    """Predict the filling for each piece, and say where there is too little.

    Parameters
    ----------
    book : Notebook
        Takes what is found.
    sheet : Sheet
        All of it.
    stage : Stage
        The stage of this kind.
    """
    if not isinstance(stage, FormStage):
        return
    pieces = stage.pieces or pieces_of(sheet)
    mass = sum(phase_g(sheet, p) for p in ("fat", "water", "filling"))
    if pieces is None or mass <= 0.0:
        return
    each_g = mass / pieces
    book.predict(
        "most_piece_g",
        "filling for each piece",
        each_g,
        "g",
        f"{exact_text(mass, 'g')} of filling give at most {rounded_text(each_g, 'g')} for each of "
        f"{pieces} pieces",
        stage=stage.id,
    )
    if stage.mass_g is not None and stage.mass_g.low is not None and each_g < stage.mass_g.low:
        book.trouble(
            "will not work",
            f"{pieces} pieces of at least {exact_text(stage.mass_g.low, 'g')} need "
            f"{exact_text(pieces * stage.mass_g.low, 'g')}; the sheet makes "
            f"{exact_text(mass, 'g')}",
            "fewer or smaller pieces, or a larger batch",
            "sheet",
            stage=stage.id,
        )

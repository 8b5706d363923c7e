"""Which stage of the sheet is under way, which ran before, and which comes next.

Pure bookkeeping; used by logger.watch.engine.engine, which decides when a stage begins and ends.
"""

from dataclasses import replace

from logger.model.kinds.registry import Stage
from logger.model.rows import StageRow
from logger.model.sheet import Sheet
from logger.watch.engine.contract import seconds


class Stages:
    """The order of the stages in one run.

    Parameters
    ----------
    sheet : Sheet
        Gives the stages and their order.
    rows : list of StageRow
        Filled with one row per stage as it was run.
    """

    def __init__(self, sheet: Sheet, rows: list[StageRow]) -> None:
        self._sheet = sheet
        self.rows = rows
        self.current: Stage | None = None
        self.began_ns: int | None = None
        """When the last stage began [ns]."""
        self._at = -1
        self._went_on_ns: int | None = None

    def named(self, stage_id: str) -> Stage | None:
        """Return the stage of the sheet with an id."""
        return next((s for s in self._sheet.stage if s.id == stage_id), None)

    def following(self) -> Stage | None:
        """Return the stage that ``next`` begins; None after the last."""
        after = self._at + 1
        return self._sheet.stage[after] if after < len(self._sheet.stage) else None

    def begin(self, stage: Stage, t_ns: int) -> None:
        """Begin a stage; the one before it must have ended."""
        self.current, self.began_ns = stage, t_ns
        self._at = next(i for i, s in enumerate(self._sheet.stage) if s.id == stage.id)
        self.rows.append(replace(_row(stage), start_s=seconds(t_ns)))

    def end(self, t_ns: int) -> None:
        """End the stage under way."""
        self.current = None
        self.rows[-1].end_s = seconds(t_ns)

    def go_on(self, t_ns: int, missed_s: float) -> None:
        """Take that the batch was ended in the stage under way and goes on.

        Parameters
        ----------
        t_ns : int
            When it goes on [ns]; one that is told twice counts once.
        missed_s : float
            How long it was ended [s].
        """
        if self.current is not None and t_ns != self._went_on_ns:
            self.rows[-1].paused_s += missed_s
        self._went_on_ns = t_ns

    def ribbon(self) -> list[StageRow]:
        """Return the sheet's stages in order, each with its last start and end, for the screen."""
        latest = {row.id: row for row in self.rows}
        return [replace(latest.get(s.id) or _row(s)) for s in self._sheet.stage]


def _row(stage: Stage) -> StageRow:
    return StageRow(id=stage.id, kind=stage.kind, title=stage.title, planned_s=stage.planned_s)

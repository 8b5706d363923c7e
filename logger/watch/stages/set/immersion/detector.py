"""The door to the immersion detector: readings and words in, table of immersions out.

Pure: takes time from what it is fed, keeps plain attributes, gives the same answer however the
stream was cut. Used by the bath watcher; the bath scale's channel feeds it.
"""

from dataclasses import dataclass, replace

from logger.watch.stages.set.immersion.assignment import BathTable, Immersion, build_table
from logger.watch.stages.set.immersion.segmentation import Plateau, PlateauFinder
from logger.watch.stages.set.immersion.transitions import Given

WORD_REACH_S = 12.0  # a tap belongs to an edge at most this far away
LIGHTEST_STEP_G = 6.0
LOOK_AGAIN_S = (4.0, 12.0)  # after a new level: drips are over, the level is known best


@dataclass(frozen=True, slots=True, kw_only=True)
class RawEvent:
    """A lasting change of level, or a word, as it was seen at the time; never changed later.

    Attributes
    ----------
    t_s : float
        When [s]; the middle of the interval when it lies in a gap.
    kind : str
        ``up``, ``down``, ``gap``, ``tare`` or ``word``.
    change_g : float
        By how much the level changed [g].
    text : str
        For a person.
    """

    t_s: float
    kind: str
    change_g: float = 0.0
    text: str = ""


@dataclass(frozen=True, slots=True)
class _Word:
    t_s: float
    what: str
    piece: int


class ImmersionDetector:
    """Times the pieces in a bath.

    Parameters
    ----------
    masses_g : dict, optional
        Registered mass by piece number [g].
    planned_s : tuple, optional
        Lowest and highest planned dwell [s].
    pieces : int, optional
        How many pieces there are.
    """

    def __init__(
        self,
        *,
        masses_g: dict[int, float] | None = None,
        planned_s: tuple[float, float] | None = None,
        pieces: int | None = None,
    ) -> None:
        self.masses_g = dict(masses_g or {})
        self.planned_s = planned_s
        self.pieces = pieces
        self.log: list[RawEvent] = []
        self._finder = PlateauFinder(self._least_step_g())
        self._words: list[_Word] = []
        self._ended = False
        self._seen: list[Plateau] = []
        self._looks_s: list[float] = []
        self._table: BathTable | None = None

    def feed(self, t_s: float, mass_g: float | None) -> None:
        """Take one reading of the bath scale [s, g]; None for a reading without a value."""
        finder = self._finder
        known = len(finder.finished)
        finder.feed(t_s, mass_g)
        if finder.moving:
            return
        if len(finder.finished) != known or not self._seen:
            if self._seen:
                self._log_edge()
            self._looks_s = [t_s + later for later in LOOK_AGAIN_S]
            self._look()
        elif self._looks_s and t_s >= self._looks_s[0]:
            self._looks_s.pop(0)
            self._look()

    def register(self, piece: int, mass_g: float) -> None:
        """A piece was weighed before the bath [g]."""
        self.masses_g[piece] = mass_g
        self._finder.min_step_g = self._least_step_g()
        self._table = None

    def tare(self, t_s: float) -> None:
        """The scale was tared."""
        self._finder.tare(t_s)
        self.log.append(RawEvent(t_s=t_s, kind="tare", text="scale tared"))

    def say(self, t_s: float, what: str, piece: int) -> None:
        """The operator says that a piece goes ``in`` or comes ``out`` about now."""
        self._words.append(_Word(t_s, what, piece))
        self.log.append(RawEvent(t_s=t_s, kind="word", text=f"piece {piece} {what}"))
        self._table = None

    def confirm(self, number: int, piece: int) -> None:
        """The operator says which piece a row of the table is: its out belongs to that piece."""
        for row in self.table().immersions:
            if row.number == number and row.out_s is not None:
                self.say(row.out_s, "out", piece)
            elif row.number == number and row.in_s is not None:
                self.say(row.in_s, "in", piece)

    @property
    def ended(self) -> bool:
        """Whether no reading will follow."""
        return self._ended

    def end(self) -> None:
        """No reading will follow."""
        self._ended = True
        self._look()

    def table(self) -> BathTable:
        """The table as it was when the level last settled; looking changes nothing."""
        if self._table is None:
            self._table = self._explain()
        return self._table

    def _explain(self) -> BathTable:
        plateaus = self._seen
        ins, outs, loose = self._place_words(plateaus)
        given = Given(
            masses_g=self.masses_g, pieces=self.pieces, outs=outs, ins=ins, ended=self._ended
        )
        found = build_table(plateaus, given, self.planned_s)
        return _with_words(found, loose)

    def _look(self) -> None:
        now = self._finder.now
        self._seen = [*self._finder.finished, *([] if now is None else [now])]
        self._table = None

    def _place_words(
        self, plateaus: list[Plateau]
    ) -> tuple[dict[int, int], dict[int, int], list[_Word]]:
        """Give each word to the nearest edge of its direction; the rest stand on their own."""
        ins: dict[int, int] = {}
        outs: dict[int, int] = {}
        loose: list[_Word] = []
        for word in self._words:
            taken = outs if word.what == "out" else ins
            sign = -1 if word.what == "out" else 1
            best, nearest = -1, WORD_REACH_S
            for place in range(1, len(plateaus)):
                change = plateaus[place].in_g - plateaus[place - 1].out_g
                off = abs(plateaus[place].edge_s - word.t_s)
                if change * sign > 0 and off <= nearest and place not in taken:
                    best, nearest = place, off
            if best >= 0:
                taken[best] = word.piece
            else:
                loose.append(word)
        return ins, outs, loose

    def _log_edge(self) -> None:
        now = self._finder.now
        if now is None:
            return
        before = self._finder.finished[-1]
        change = now.early_g - before.out_g
        if now.tared:
            kind = "tare"
        elif now.hidden:
            kind = "gap"
        else:
            kind = "up" if change > 0 else "down"
        self.log.append(RawEvent(t_s=now.edge_s, kind=kind, change_g=change))

    def _least_step_g(self) -> float:
        if not self.masses_g:
            return LIGHTEST_STEP_G
        return max(2.5, min(LIGHTEST_STEP_G, 0.35 * min(self.masses_g.values())))


def _with_words(found: BathTable, words: list[_Word]) -> BathTable:
    """Add what was told by hand where the scale saw nothing."""
    if not words:
        return found
    rows = list(found.immersions)
    for word in words:
        known = any(row.piece == word.piece for row in rows)
        place = next(
            (
                index
                for index, row in enumerate(rows)
                if row.piece == word.piece and (row.out_s is None and row.out_between_s is None)
            ),
            None,
        )
        if word.what == "in":
            if place is not None:
                continue  # told twice, or the scale knew
            rows.append(
                Immersion(
                    number=len(rows) + 1,
                    piece=word.piece,
                    in_s=word.t_s,
                    out_s=None,
                    dwell_s=None,
                    by_hand=True,
                )
            )
        elif place is not None:
            row = rows[place]
            dwell = None if row.in_s is None else word.t_s - row.in_s
            rows[place] = replace(row, out_s=word.t_s, dwell_s=dwell, by_hand=True)
        elif not known:
            rows.append(
                Immersion(
                    number=len(rows) + 1,
                    piece=word.piece,
                    in_s=None,
                    out_s=word.t_s,
                    dwell_s=None,
                    at_start=True,
                    by_hand=True,
                )
            )
    return replace(found, immersions=tuple(rows))

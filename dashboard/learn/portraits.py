"""The numbers of finished runs, worked out once and kept while the run file does not change.

Reads run files; everything that is worked out comes from ``logger.review``.
"""

import threading

from dashboard.links import Links
from logger.model.errors import BainlogError
from logger.review.features.facts import facts_of
from logger.review.features.portrait import Portrait, portrait
from logger.review.plan.known import Fats, Slabs, known_fats, known_slabs
from logger.review.why.explain import Explanation, explain
from logger.review.why.knowledge import Mechanism, builtin_knowledge, knowledge_from_toml
from logger.review.why.likelihood import Likelihoods, builtin_likelihoods, with_own

MOST_GOOD = 20
"""No more accepted runs than this are compared with."""


class Portraits:
    """Portraits of the runs of one data folder.

    Parameters
    ----------
    links : Links
    """

    def __init__(self, links: Links) -> None:
        self._links = links
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[str, Portrait]] = {}

    def of(self, run_id: str) -> Portrait | None:
        """Return a run's portrait, or None when the run was not ended.

        Raises
        ------
        StoreError
            If the run file does not read.
        """
        with self._lock, self._links.open_run(run_id) as view:
            said = view.outcome()
            stamp = repr((view.last_seq, view.ended_utc_ns, said))
            if run_id in self._kept and self._kept[run_id][0] == stamp:
                return self._kept[run_id][1]
            results = view.results()
            if results is None:
                return None
            made = portrait(facts_of(view, results, self.fats()))
            self._kept[run_id] = (stamp, made)
            return made

    def readable(self, run_id: str) -> Portrait | None:
        """Return a run's portrait, or None as well when its file does not read."""
        try:
            return self.of(run_id)
        except BainlogError:
            return None

    def fats(self) -> Fats:
        """Return the fats by key, the data folder's own on top."""
        own = self._links.folder().fats_file
        return known_fats(own.read_text("utf-8") if own.is_file() else None)

    def slabs(self) -> Slabs:
        """Return the data folder's latest slab test of each alginate."""
        own = self._links.folder().slabs_file
        return known_slabs(own.read_text("utf-8") if own.is_file() else None)

    def knowledge(self) -> tuple[Mechanism, ...]:
        """Return what leads to what, the data folder's own ``knowledge.toml`` on top.

        Raises
        ------
        InputError
            If that file does not read.
        """
        own = self._links.folder().path / "knowledge.toml"
        if not own.is_file():
            return builtin_knowledge()
        return knowledge_from_toml(own.read_text("utf-8"), own.name, builtin_knowledge())

    def causes(self) -> dict[str, str]:
        """Return what a cause is called, by its id; none where the own file is wrong."""
        try:
            return {m.id: m.cause for m in self.knowledge()}
        except (BainlogError, OSError, ValueError):
            return {}

    def why(self, run_id: str) -> Explanation | None:
        """Explain a run against the accepted ones of its product; None when it was not ended."""
        run = self.of(run_id)
        if run is None:
            return None
        good: list[Portrait] = []
        for entry in self._links.catalog().runs(product=run.product, outcome="accepted"):
            if entry.run_id == run_id or len(good) >= MOST_GOOD:
                continue
            try:
                found = self.of(entry.run_id)
            except BainlogError:
                continue
            good += [found] if found is not None else []
        return explain(run, good, self.knowledge(), self._learned(run.product))

    def _learned(self, product: str) -> Likelihoods:
        """Return the likelihoods, with the runs of a product whose cause somebody said."""
        entries = self._links.catalog().runs(product=product, outcome="rejected")
        own = [(e.defects, e.because) for e in entries if e.because]
        return with_own(builtin_likelihoods(), own)

"""How likely each cause is, from the strength of its signs: likelihood ratios and priors, noisy-or.

Pure but for reading the built-in ``likelihoods.toml``, which a script of the tests learns from
virtual runs whose causes are known. Used by logger.review.why.explain.

A cause is in a batch with a small prior chance, raised or lowered by the likelihood ratio of the
strength that its signs show. A defect came out, so at least one of the causes that lead to it was
there, or one that nobody knows (noisy-or with a leak); the chance of each is conditional on that.

References
----------
Pearl, J. (1988). Probabilistic Reasoning in Intelligent Systems, section 4.3.2 (noisy-or; from
memory). Good, I. J. (1950). Probability and the Weighing of Evidence (log ratios; from memory).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from logger.model.files import table_of

ANY = ""
"""Stands for a batch whose defects nobody said, or of whose defects nothing is known."""
MOST_LIKELY, MAY_BE = 0.6, 0.3
"""Chances from which a cause is called most likely, and possible."""

_DOUBTED = 0.5
_SPARED = -1.0  # judged, not learned: what reaches a whole batch seldom leaves most of it alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratios:
    """Common logarithms of likelihood ratios.

    Attributes
    ----------
    strength : tuple of float
        Strengths of signs, rising from 0 to 1.
    shown : tuple of float
        Logarithm at each strength [1], rising; linear in between.
    not_measured : float
        The same where nothing that would tell was measured.
    """

    strength: tuple[float, ...]
    shown: tuple[float, ...]
    not_measured: float

    def at(self, strength: float | None) -> float:
        """Return the logarithm at a strength [1], 0 to 1; None is not measured."""
        if strength is None:
            return self.not_measured
        for k in range(1, len(self.strength)):
            if strength <= self.strength[k]:
                low, high = self.strength[k - 1], self.strength[k]
                part = (strength - low) / (high - low)
                return self.shown[k - 1] + part * (self.shown[k] - self.shown[k - 1])
        return self.shown[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Likelihoods:
    """What was learned.

    Attributes
    ----------
    compared, alone : Ratios
        With good runs to compare with, and with too few.
    priors : mapping of str to mapping of str to float
        How many learned runs of each defect had each cause; ``""`` counts all of them.
    rate, rate_any : float
        Chance that a batch has some cause of one defect, and of any, before anything is known [1].
    even : float
        Runs that each cause is given beside those counted, so that none is ruled out by them.
    unknown : float
        The same for all causes that nobody knows, together.
    elsewhere : float
        Factor on the odds of a cause that leads to none of the defects that came out [1].
    """

    compared: Ratios
    alone: Ratios
    priors: Mapping[str, Mapping[str, float]]
    rate: float
    rate_any: float
    even: float
    unknown: float
    elsewhere: float


@cache
def builtin_likelihoods() -> Likelihoods:
    """Return what comes with the program."""
    text = files("logger.review").joinpath("likelihoods.toml").read_text(encoding="utf-8")
    return likelihoods_from_toml(text, "likelihoods.toml")


def likelihoods_from_toml(text: str, where: str) -> Likelihoods:
    """Read what was learned.

    Parameters
    ----------
    text : str
        TOML as the script of the tests writes it.
    where : str
        Name of the file, for messages.
    """
    data = table_of(text, where)
    return Likelihoods(
        compared=_ratios(data["compared"]),
        alone=_ratios(data["alone"]),
        priors=data["priors"],
        rate=data["rate"],
        rate_any=data["rate_any"],
        even=data["even"],
        unknown=data["unknown"],
        elsewhere=data["elsewhere"],
    )


def with_own(learned: Likelihoods, own: Sequence[tuple[Sequence[str], str]]) -> Likelihoods:
    """Return likelihoods whose priors also count a user's own runs.

    Parameters
    ----------
    learned : Likelihoods
        What was learned before.
    own : sequence of pair
        Defects of each run, and the id of the cause that somebody found.
    """
    priors = {defect: dict(counted) for defect, counted in learned.priors.items()}
    for defects, cause in own:
        for defect in (ANY, *defects):
            counted = priors.setdefault(defect, {})
            counted[cause] = counted.get(cause, 0.0) + 1.0
    return replace(learned, priors=priors)


def _ratios(table: Mapping[str, Any]) -> Ratios:
    return Ratios(
        strength=tuple(table["strength"]),
        shown=tuple(table["shown"]),
        not_measured=table["not_measured"],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a run shows of one cause.

    Attributes
    ----------
    strength : float or None
        Of its signs, 0 to 1; None where nothing that would tell was measured.
    leads_to : tuple of str
        Defects of the run that it leads to.
    doubtful : bool
        All that shows it comes from channels that were silent or stuck at that time.
    spared : bool
        It would reach all pieces, and most of them do not show the defect.
    """

    strength: float | None
    leads_to: tuple[str, ...]
    doubtful: bool = False
    spared: bool = False


def chances(
    shown: Mapping[str, Shown], defects: Sequence[str], learned: Likelihoods, *, compared: bool
) -> dict[str, float]:
    """Return how likely each cause is, and under ``""`` one that nobody knows.

    Parameters
    ----------
    shown : mapping of str to Shown
        By the id of the cause; all that are known.
    defects : sequence of str
        Of the run, those that some known cause leads to; empty where nobody said.
    learned : Likelihoods
        What was learned.
    compared : bool
        Whether there are good runs to compare with.

    Returns
    -------
    dict of str to float
        Chance that the cause was in this batch, given its defects, 0 to 1.
    """
    ratios = learned.compared if compared else learned.alone
    found: dict[str, float] = {}
    for defect in defects or (ANY,):
        leading = [i for i, s in shown.items() if defect == ANY or defect in s.leads_to]
        prior = _priors(defect, leading, learned)
        alone = {i: _raised(prior[i], _log_ratio(shown[i], ratios)) for i in leading}
        unknown = prior[ANY]
        none = (1.0 - unknown) * math.prod(1.0 - p for p in alone.values())
        some = 1.0 - none
        for cause, p in {**alone, ANY: unknown}.items():
            found[cause] = max(found.get(cause, 0.0), p / some)
    elsewhere = _priors(ANY, list(shown), learned)
    for cause, one in shown.items():
        if cause not in found:
            log_ratio = _log_ratio(one, ratios) + math.log10(learned.elsewhere)
            found[cause] = _raised(elsewhere[cause], log_ratio)
    return found


def _log_ratio(shown: Shown, ratios: Ratios) -> float:
    """Return the common logarithm of the likelihood ratio; what is in doubt says half as much."""
    if shown.strength is None and shown.spared:
        return _SPARED
    return ratios.at(shown.strength) * (_DOUBTED if shown.doubtful else 1.0)


def _priors(defect: str, causes: Sequence[str], learned: Likelihoods) -> dict[str, float]:
    """Return the prior chance of each cause, and under ``""`` of an unknown one."""
    counted = learned.priors.get(defect, {})
    weight = {cause: counted.get(cause, 0.0) + learned.even for cause in causes}
    weight[ANY] = learned.unknown
    total = sum(weight.values())
    rate = learned.rate_any if defect == ANY else learned.rate
    return {cause: rate * one / total for cause, one in weight.items()}


def _raised(prior: float, log_ratio: float) -> float:
    """Return the chance after a likelihood ratio (its common logarithm)."""
    odds: float = prior / (1.0 - prior) * 10.0**log_ratio
    return odds / (1.0 + odds)

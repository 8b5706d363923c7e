"""An explanation as plain values: ranked causes with their evidence, and what was not measured.

Made by logger.review.why.explain; printed, drawn and written into reports by others.
"""

from dataclasses import asdict, dataclass
from typing import Any

from logger.model.explained.considered import Considered
from logger.model.finding import Finding
from logger.review.why.evidence import Evidence
from logger.review.why.knowledge import Mechanism


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One suspect.

    Attributes
    ----------
    score : float
        Chance that it was in this batch, given what is known of it, 0 to 1.
    rank : float
        Strength of its signs and how it fits, 0 to 1.
    says : str
        A sentence or two that a cook understands.
    evidence : tuple of Evidence
        Strongest first.
    proven : bool
        False where it is named only because nothing that was measured explains the defect.
    known : bool
        False where no cause in the knowledge shows: a limit was broken in a stage that can lead to
        the defect.
    """

    mechanism: Mechanism
    score: float
    rank: float
    stage: str
    says: str
    evidence: tuple[Evidence, ...]
    fits: tuple[str, ...]
    proven: bool = True
    known: bool = True

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        known = self.mechanism
        return {
            "cause": known.id,
            "title": known.cause,
            "score": round(self.score, 3),
            "stage": self.stage,
            "says": self.says,
            "fits": list(self.fits),
            "proven": self.proven,
            "known": self.known,
            "sensors": known.sensors,
            "because": known.because,
            "source": known.source,
            "wrong_if": known.wrong_if,
            "next_time": known.next_time,
            "evidence": [e.as_json() for e in self.evidence],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Why a run came out as it did.

    Attributes
    ----------
    says : str
        The answer in a sentence.
    causes : tuple of Cause
        Best first; empty when nothing stands out or the run was accepted.
    compared_with : tuple of str
        Good runs that it was compared with; fewer than three claim nothing.
    missing : tuple of str
        What was not measured that would decide.
    limits : tuple of Finding
        Limits of the sheet that were broken.
    unlike : tuple of str
        Numbers unlike those of the good runs, in words.
    by_piece : tuple of str
        Defects of single pieces, how many show them, and what sets these apart, in words.
    considered : tuple of Considered
        Every candidate that was looked at, and the number that rules it out or leaves it open.
    """

    run: str
    outcome: str | None
    defects: tuple[str, ...]
    says: str
    causes: tuple[Cause, ...]
    compared_with: tuple[str, ...]
    missing: tuple[str, ...]
    limits: tuple[Finding, ...]
    unlike: tuple[str, ...]
    by_piece: tuple[str, ...] = ()
    considered: tuple[Considered, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values: the contract of ``explain --json``."""
        return {
            "run": self.run,
            "outcome": self.outcome,
            "defects": list(self.defects),
            "says": self.says,
            "causes": [c.as_json() for c in self.causes],
            "compared_with": list(self.compared_with),
            "missing": list(self.missing),
            "limits": [asdict(f) for f in self.limits],
            "unlike": list(self.unlike),
            "by_piece": list(self.by_piece),
            "considered": [asdict(c) for c in self.considered],
        }


def capital(text: str) -> str:
    """Return a text that begins with a capital."""
    return text[:1].upper() + text[1:]

"""How to make a run's batch again: recipe as weighed, vessels, each stage in a line.

Pure; the content of logger.review.papers.report_content in, rows of text out.
"""

from dataclasses import dataclass

from logger.model.kinds.registry import title_of
from logger.model.rows import StageRow
from logger.model.sheet import Ingredient
from logger.review.headline import counted
from logger.review.papers.report_content import ReportContent
from logger.review.papers.wanted import wanted
from logger.words.digits import DASH
from logger.words.durations import clock
from logger.words.steps import step_words
from logger.words.values import exact_text, number_text

PHASES = {
    heading.split()[0].lower(): heading
    for heading in ("Fat phase", "Water phase", "Filling", "Coat", "Bath", "Rinse")
}
"""Headings of the recipe by phase, in its order."""
_ORDER = (("not met", "not met", "stop"), ("too close", "too close", "warn"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """An ingredient: as planned, as weighed in this run, and its lot."""

    name: str
    planned: str
    weighed: str
    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """The ingredients of a phase."""

    name: str
    rows: list[Weighed]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A stage: what to do, how long it was planned and took, how its checks came out."""

    title: str
    what: str
    planned: str
    took: str
    checks: str
    look: str


def recipe(content: ReportContent) -> list[Phase]:
    """Return the ingredients by phase, with what was surely weighed."""
    weighed = {
        row.ingredient: number_text(row.mass_g, "g", row.expanded_uncertainty_g)
        for row in content.results.weighings
        if row.mass_g is not None and row.sure
    }

    def row(one: Ingredient) -> Weighed:
        return Weighed(
            name=one.name,
            planned=exact_text(one.mass_g, "g"),
            weighed=weighed.get(one.name, DASH),
            lot=content.start.lots.get(one.name) or one.lot or DASH,
        )

    found = [
        Phase(name=title, rows=[row(i) for i in content.sheet.of_phase(phase)])
        for phase, title in PHASES.items()
    ]
    return [phase for phase in found if phase.rows]


def steps(content: ReportContent) -> list[Step]:
    """Return the stages of the sheet as they were planned and made."""
    rows = {row.id: row for row in content.results.stages}
    found, said = [], set[str]()
    for stage in content.sheet.stage:
        asked = [one.says for one in wanted(stage)]
        new = [text for text in (*step_words(stage), *asked) if text not in said]
        said |= {text for text in new if text.startswith("piece")}
        checks, look = _checks(content, stage.id)
        found.append(
            Step(
                title=title_of(stage),
                what=", ".join(new),
                planned=clock(stage.planned_s),
                took=clock(_took_s(rows.get(stage.id))),
                checks=checks,
                look=look,
            )
        )
    return found


def _took_s(row: StageRow | None) -> float | None:
    if row is None or row.start_s is None or row.end_s is None:
        return None
    return row.end_s - row.start_s


def _checks(content: ReportContent, stage: str) -> tuple[str, str]:
    """Return in words how the checks of a stage came out, worst first, and their look."""
    count = counted([f for f in content.results.findings if f.stage == stage])
    for name, word, look in _ORDER:
        if name in count:
            return f"{count[name]} {word}", look
    return (f"{count['met']} met", "good") if "met" in count else (DASH, "none")


def vessels(content: ReportContent) -> list[str]:
    """Return the vessels, each in a line."""
    found = []
    for vessel in content.sheet.vessel:
        parts: list[str] = [vessel.material or "material not noted"]
        if vessel.mass_g is not None:
            parts.append(exact_text(vessel.mass_g, "g"))
        if vessel.heat_capacity_j_k is not None:
            parts.append(exact_text(vessel.heat_capacity_j_k, "J/K"))
        if vessel.temp_c is not None:
            parts.append(f"at {exact_text(vessel.temp_c, 'degC')}")
        found.append(f"{vessel.id}, for the {vessel.holds}: {', '.join(parts)}")
    return found

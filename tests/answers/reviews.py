"""What is said of runs: numbers, causes, comparisons, learned sheets, plans, and pages of paper.

Batches of the second kitchen, and portraits with numbers that are made up.
"""

from collections.abc import Iterator
from dataclasses import replace

from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.review.compare.compare import compare
from logger.review.features.facts import RunFacts
from logger.review.features.portrait import Portrait, portrait
from logger.review.learn.learned import learned_sheet
from logger.review.learn.scaled_text import scaled_text
from logger.review.learn.sheet_text import sheet_as_toml
from logger.review.learn.sheets import template
from logger.review.papers.again import recipe, steps, vessels
from logger.review.papers.figures import traces_svg
from logger.review.papers.page import page_of
from logger.review.papers.picture import Drawn
from logger.review.papers.report_content import ReportContent
from logger.review.papers.sheets.card import card_of
from logger.review.papers.sheets.handed import recipe_of
from logger.review.plan.plan import plan
from logger.review.targets import targets_of
from logger.review.why.explain import explain
from logger.review.why.group import group_of
from logger.review.why.knowledge import builtin_knowledge
from logger.science.fats.fatfile import builtin_fats
from tests.answers.lines import of_each, table, written
from tests.answers.sessions import DAY_SHEET
from tests.answers.stock import DAY
from tests.review.conftest import make
from tests.review.second_kitchen.cook import BY_PIECE
from tests.review.second_kitchen.product import SHEET
from tests.review.second_kitchen.traces import played
from tests.watch.made_up import ROLES

FATS = builtin_fats()
KNOWLEDGE = builtin_knowledge()
SHEETS = {"first": template(), "day": DAY_SHEET}
SHORT = template().replace('dwell = { low = "6 min"', 'dwell = { low = "8 min"')
DRAWN_EVERY_S = 120


def kitchen(cause: str, seed: int, defect: str) -> Iterator[str]:
    """Cook a batch in which something goes wrong, judge it, explain it, and lay out its papers."""
    facts = played(seed, cause)[1]
    run = portrait(facts)
    by_piece = {1: (defect,), 5: (defect,)} if cause in BY_PIECE else {}
    run = replace(run, outcome="rejected", defects=(defect,), piece_defects=by_piece)
    yield from of_each(facts.results)
    yield from table("features", [run.features[name] for name in sorted(run.features)])
    yield from explained(run, [])
    yield from papers(facts, run)


def explained(run: Portrait, good: list[Portrait]) -> Iterator[str]:
    """Explain a run."""
    found = explain(run, good, KNOWLEDGE)
    told = found.as_json()
    for cause in told.pop("causes"):
        yield from table("cause", cause)
    for name, value in told.items():
        yield from table(name, value)


def papers(facts: RunFacts, run: Portrait) -> Iterator[str]:
    """Write what stands on the pages of a run."""
    results = facts.results
    end_s = max(row.end_s or 0.0 for row in results.stages)
    drawn = []
    for channel in facts.bench.channel[:4]:
        trace = facts.read(channel.id, 0, round(end_s * 1e9))
        some = slice(None, None, DRAWN_EVERY_S)
        drawn.append(
            Drawn(
                id=channel.id, role=channel.role or "other", label=channel.name, unit=channel.unit,
                t_s=trace.t_ns[some] / 1e9, value=trace.value[some],
            )
        )  # fmt: skip
    content = ReportContent(
        run_id="r1", started="2026-11-25T09:13:02+01:00", duration_s=end_s, outcome=run.outcome,
        defects=run.defects, results=results, notes=results.notes, sheet=facts.sheet,
        explanation=explain(run, [], KNOWLEDGE), channels=drawn, version="1", data_sha256="ab" * 32,
        made="2026-11-25",
    )  # fmt: skip
    yield from table("said", content.said())
    yield from of_each(page_of(content))
    yield from table("recipe", recipe(content))
    yield from table("steps", steps(content))
    yield from table("vessels", vessels(content))
    yield from table("targets", targets_of(results.findings, results.stages))
    yield from table("picture", traces_svg(content.picture()).splitlines())


def among_runs() -> Iterator[str]:
    """Compare, explain, group and learn from runs whose numbers are made up."""
    good = [make(f"good{i}", seed=100 + i) for i in range(6)]
    cold = [
        make(f"cold{i}", seed=200 + i, outcome="rejected", defects=["grainy"],
             changed={"fat_at_pour_c": 36.0 + i, "mix_predicted_c": 38.0})
        for i in range(2)
    ]  # fmt: skip
    thin = make(
        "thin", seed=300, outcome="rejected", defects=["skin burst"],
        changed={"coat_mm": 0.35, "coat_thinnest_mm": 0.2, "coat_spread_percent": 22.0},
        without=("bath_c",),
    )  # fmt: skip
    longer = [make(f"longer{i}", seed=400 + i, text=SHORT, changed={"set_fraction_percent": 90.0})
              for i in range(4)]  # fmt: skip
    yield from explained(cold[0], good)
    yield from explained(thin, good)
    yield from of_each(group_of(cold, good, [explain(run, good, KNOWLEDGE) for run in cold]))
    yield from of_each(compare([*good[:4], *longer]))
    sheet, proposals = learned_sheet(good)
    yield from table("learned", proposals)
    yield from table("sheet", sheet_as_toml(sheet).splitlines())
    yield from table("handed", written(recipe_of(sheet, good, [])).split("), "))


def planned() -> Iterator[str]:
    """Plan from sheets, before anything is weighed."""
    sheets = {name: sheet_from_text(text, name) for name, text in SHEETS.items()} | {"roll": SHEET}
    for name, sheet in sheets.items():
        found = plan(sheet, bench_of_roles(ROLES), FATS, None, DAY)
        yield f"plan of {name}"
        yield from of_each(found)
        yield from table("card", written(card_of(sheet, found.cautions)).split("), "))
    yield from table("scaled", scaled_text(template(), "first", 2.5)[0].splitlines())

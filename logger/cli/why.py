"""``explain``, ``compare`` and ``learn``: why a batch came out as it did."""

import difflib
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import click

from logger.cli.options import json_option, kept_data_option, print_json, say, table, write_new
from logger.model.errors import InputError
from logger.model.explained.group import GroupNumber, GroupPoint
from logger.model.finding import Finding
from logger.model.history import said_results
from logger.model.rows import ResultRow
from logger.recorder.replay.replay import replay
from logger.recorder.setup import fats_of, read_text
from logger.review.compare.compare import Comparison, compare
from logger.review.compare.scores import scores_say
from logger.review.features.facts import facts_of
from logger.review.features.portrait import Portrait, portrait
from logger.review.learn.learned import learned_sheet, width_says
from logger.review.learn.sheet_text import sheet_as_toml
from logger.review.why.explain import explain
from logger.review.why.explanation import Explanation, capital
from logger.review.why.group import group_of
from logger.review.why.knowledge import Mechanism, builtin_knowledge, knowledge_from_toml
from logger.review.why.likelihood import Likelihoods, builtin_likelihoods, with_own
from logger.review.why.unlike import MOST
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.words.bands import span_text
from logger.words.values import value_text

FILE = click.Path(path_type=Path)


@click.command("explain")
@click.argument("runs", nargs=-1, required=True)
@kept_data_option
@json_option
@click.option("--with", "named", multiple=True, help="Good run to compare with. [default: all]")
def explain_(runs: tuple[str, ...], data: Path, as_json: bool, named: tuple[str, ...]) -> None:
    """Say why a batch came out as it did, or what several batches with one defect share."""
    folder = DataFolder(data)
    compared = [folder.find_run(n) for n in named]
    if len(runs) > 1:
        _explain_group(folder, [folder.find_run(r) for r in runs], compared, as_json)
        return
    found = explained(folder, folder.find_run(runs[0]), compared)
    if as_json:
        print_json(found.as_json() | {"group": None})
        return
    say(found.says)
    say(f"Compared with {len(found.compared_with)} good batches.")
    for line in _limit_lines(found):
        say(f"Not met in {line}")
    for text in found.by_piece:
        say(f"By piece: {text}")
    for text in found.unlike:
        say(f"Unlike the good batches: {text}")
    for number, cause in enumerate(found.causes[:5], start=1):
        known = cause.mechanism
        says = f"{capital(known.cause)}. {known.because}" if cause.proven else cause.says
        say(f"\n{number}. {says}  [score {round(100 * cause.score)} of 100]")
        for evidence in cause.evidence:
            say(f"   - {evidence.finding.evidence} ({evidence.kind_text})")
        say(f"   Wrong if {known.wrong_if}.")
        say(f"   Next time: {known.next_time}.")
        say(f"   Source: {known.source}")
    for text in found.missing:
        say(f"Not measured: {text}")
    if out := [c.title for c in found.considered if c.standing == "ruled out"]:
        say(f"Ruled out by what was measured: {'; '.join(out)}.")


def _explain_group(
    folder: DataFolder, runs: Sequence[str], named: Sequence[str], as_json: bool
) -> None:
    """Explain several runs, and say what they share and which are unlike the others."""
    if len(set(runs)) < len(runs):
        raise InputError("explain", "the same run twice", "name each run once")
    portraits = [portrait_of(folder, r) for r in runs]
    if len({p.product for p in portraits}) > 1:
        products = ", ".join(sorted({p.product for p in portraits}))
        raise InputError("explain", f"runs of {products}", "name runs of one product")
    known = knowledge_of(folder)
    good = [portrait_of(folder, g) for g in named or good_runs(folder, portraits[0])]
    learned = learned_in(folder, portraits[0].product)
    each = [explain(one, good, known, learned) for one in portraits]
    group = group_of(portraits, good, each)
    if as_json:
        print_json({"runs": [one.as_json() for one in each], "group": asdict(group)})
        return
    say(group.says)
    for one in each:
        say(f"\n{one.run}: {one.says}")
    rows = [[n.label, *(_point_text(n, p) for p in n.points), _good_text(n)] for n in group.numbers]
    table("Numbers (* far from the others in the group)", ["", *runs, "good batches"], rows)


def _point_text(number: GroupNumber, point: GroupPoint) -> str:
    if point.value is None:
        return "–"
    expanded = None if point.u is None else 2.0 * point.u
    return value_text(point.value, number.unit, expanded) + (" *" if point.far_off else "")


def _good_text(number: GroupNumber) -> str:
    if number.good_low is None or number.good_high is None:
        return "–"
    return span_text(number.good_low, number.good_high, number.unit)


def _limit_lines(found: Explanation) -> list[str]:
    """Write broken limits, those of several pieces in one line."""
    alike: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in found.limits:
        alike.setdefault((finding.stage, finding.key, finding.subject), []).append(finding)
    lines = []
    for first, *others in alike.values():
        more = f", and {len(others)} more" if others else ""
        lines.append(f"{first.stage}: {first.check}, {first.evidence}{more}")
    return lines


@click.command("compare")
@click.argument("runs", nargs=-1, required=True)
@kept_data_option
@json_option
def compare_(runs: tuple[str, ...], data: Path, as_json: bool) -> None:
    """Put runs next to each other; the others are compared with the first."""
    if len(runs) < 2:
        raise InputError("compare", f"{len(runs)} run", "name at least two")
    folder = DataFolder(data)
    portraits = [portrait_of(folder, folder.find_run(r)) for r in runs]
    found = compare(portraits)
    if as_json:
        print_json(found.as_json())
        return
    say(found.says)
    for run, changes in zip(found.runs[1:], found.changes, strict=True):
        if changes:
            table(
                f"What differs in the sheet of {run}",
                ["where", found.runs[0], run],
                [[c.where, c.before, c.after] for c in changes],
            )
    for run, swaps in zip(found.runs[1:], found.swaps, strict=True):
        for swap in swaps:
            say(f"{run}: {swap.group} {swap.before} → {swap.after}")
    table("Numbers", ["", *found.runs], _number_rows(found))
    for said in scores_say([results_of(folder, run) for run in found.runs]):
        say(capital(said))
    if any(e.effect.p is not None for e in found.effects):
        table("What the change did", ["", "effect"], [[e.label, e.says] for e in found.effects])


def _number_rows(found: Comparison) -> list[list[str]]:
    outcomes = [
        f"{outcome or '–'}{': ' + ', '.join(defects) if defects else ''}"
        for outcome, defects in zip(found.outcomes, found.defects, strict=True)
    ]
    rows = [["how it came out", *outcomes]]
    for row in found.rows:
        values = [
            "–" if v is None else value_text(v, row.unit, None if u is None else 2.0 * u)
            for v, u in zip(row.values, row.us, strict=True)
        ]
        rows.append([row.label, *values])
    return rows


@click.command()
@click.argument("runs", nargs=-1, required=True)
@kept_data_option
@click.option("-o", "--output", type=FILE, required=True, help="Where to write the new sheet.")
def learn(runs: tuple[str, ...], data: Path, output: Path) -> None:
    """Write a sheet with the targets that worked in one run or several."""
    folder = DataFolder(data)
    portraits = [portrait_of(folder, folder.find_run(r)) for r in runs]
    for one in portraits:
        if one.outcome == "rejected":
            raise InputError(one.run_id, "was rejected", "learn from runs that worked")
    sheet, proposals = learned_sheet(portraits)
    write_new(output, sheet_as_toml(sheet, head=f"Targets from {', '.join(runs)}"))
    for proposal in proposals:
        say(proposal.says)
    about = width_says(portraits)
    if about:
        say(about)
    unjudged = [one.run_id for one in portraits if one.outcome is None]
    if unjudged:
        say(f"Nobody has said how {' and '.join(unjudged)} came out: bainlog outcome")
    say(str(output))


def explained(folder: DataFolder, run: str, named: Sequence[str] = ()) -> Explanation:
    """Explain a run against good runs of its product, the latest or those named.

    Parameters
    ----------
    folder : DataFolder
        Where the runs are.
    run : str
        Id of the run.
    named : sequence of str
        Good runs to compare it with; empty takes the latest of its product.
    """
    one = portrait_of(folder, run)
    good = list(named) if named else good_runs(folder, one)
    learned = learned_in(folder, one.product)
    return explain(one, [portrait_of(folder, g) for g in good], knowledge_of(folder), learned)


def good_runs(folder: DataFolder, one: Portrait) -> list[str]:
    """Return the accepted runs of a product, the latest first, at most 20."""
    entries = Catalog(folder).runs(product=one.product, outcome="accepted", status="ended")
    return [e.run_id for e in entries if e.run_id != one.run_id][:MOST]


def good_portraits(folder: DataFolder, product: str) -> list[Portrait]:
    """Return the accepted runs of a product, the latest first, at most 20."""
    entries = Catalog(folder).runs(product=product, outcome="accepted", status="ended")
    return [portrait_of(folder, entry.run_id) for entry in entries[:MOST]]


def require_cause(folder: DataFolder, cause: str) -> None:
    """Refuse a cause that the knowledge of a data folder does not have; empty is none.

    Raises
    ------
    InputError
        With the nearest one.
    """
    known = {m.id for m in knowledge_of(folder)} if cause else set()
    if cause and cause not in known:
        near = difflib.get_close_matches(cause, known, n=1)
        wanted = f"did you mean {near[0]!r}?" if near else "'bainlog explain --json' lists causes"
        raise InputError("--because", f"no cause {cause!r}", wanted)


def learned_in(folder: DataFolder, product: str) -> Likelihoods:
    """Return the likelihoods, with the rejected runs of a product whose cause somebody said."""
    entries = Catalog(folder).runs(product=product, outcome="rejected")
    return with_own(builtin_likelihoods(), [(e.defects, e.because) for e in entries if e.because])


def knowledge_of(folder: DataFolder) -> tuple[Mechanism, ...]:
    """Return the built-in knowledge with that of the data folder's ``knowledge.toml`` on top."""
    path, built_in = folder.path / "knowledge.toml", builtin_knowledge()
    return knowledge_from_toml(read_text(path), path.name, built_in) if path.is_file() else built_in


def results_of(folder: DataFolder, run: str) -> list[ResultRow]:
    """Return what was measured or scored of a run."""
    with RunView.open(folder.run_path(run)) as view:
        return said_results(view.events())


def portrait_of(folder: DataFolder, run: str) -> Portrait:
    """Return the portrait of a run; one whose results were never saved is judged again."""
    fats = fats_of(folder)
    with RunView.open(folder.run_path(run)) as view:
        return portrait(facts_of(view, view.results() or replay(view, fats), fats))

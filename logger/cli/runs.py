"""``runs``, ``show``, ``events``, ``outcome``: looking at what was recorded, and adding to it."""

import contextlib
import time
from collections.abc import Collection, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from logger.batch.results import result_text, typed_results
from logger.cli.options import json_option, kept_data_option, moment_s, print_json, say, table
from logger.cli.why import require_cause
from logger.control.acts import (
    require_defects,
    require_outcome,
    require_rejected,
    require_result,
)
from logger.control.client import Client, GoneError
from logger.control.requests import MOST_PIECES, Move, Undo
from logger.correct import lagless
from logger.model.errors import InputError
from logger.model.finding import Finding
from logger.model.history import ActRow, all_notes, corrections, piece_defects, said_results
from logger.model.rows import ImmersionRow
from logger.model.state import Proposal
from logger.recorder.corrections.stored import acts_of, corrected_run, save
from logger.recorder.replay.replay import replay
from logger.recorder.replay.shown import shown
from logger.recorder.setup import fats_of
from logger.store.folder.catalog import Catalog
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.entries import RunEntry, describe
from logger.store.run.runfile import RunView, RunWriter
from logger.watch.sensors.probechecks import sentences
from logger.words.acts import act_name, before_text
from logger.words.dates import moment_text
from logger.words.digits import DASH
from logger.words.durations import clock, clock_or_between, duration_text
from logger.words.verdicts import verdict_of, verdict_text


@click.command()
@kept_data_option
@json_option
@click.option("--find", default="", help="Only runs with this text in a sheet, lot, fat or note.")
def runs(data: Path, as_json: bool, find: str) -> None:
    """List the recorded runs, newest first."""
    rows = Catalog(DataFolder(data)).runs(text=find)
    if as_json:
        print_json({"runs": [row.as_json() for row in rows]})
        return
    if not rows and find:
        say(
            f"No run has {find!r} in its sheet, a lot, its fat or a note; 'bainlog runs' lists all."
        )
        return
    if not rows:
        say("No runs here. Try 'bainlog demo', or record one with 'bainlog start'.")
        return
    columns = {
        "run": [row.run_id for row in rows],
        "started": [row.started[:16].replace("T", " ") for row in rows],
        "sheet": [f"{row.sheet}, revision {row.revision}" if _reads(row) else "" for row in rows],
        "length": [duration_text(row.duration_ns / 1e9) if _reads(row) else "" for row in rows],
        "size": [row.size for row in rows],
        "operator": [row.operator for row in rows],
        "how it came out": [_came_out(row) for row in rows],
    }
    # Size and operator take room only where somebody told them.
    told = {head: cells for head, cells in columns.items() if any(cells)}
    table("", list(told), [list(cells) for cells in zip(*told.values(), strict=True)])
    for row in rows:
        if row.problem:
            say(row.problem, err=True)


def _reads(row: RunEntry) -> bool:
    return row.status != "unreadable"


def _came_out(row: RunEntry) -> str:
    damaged = ", damaged" if row.damage else ""
    if row.status != "ended":
        return f"{row.status}{damaged}"
    defects = ": " + ", ".join(row.defects) if row.defects else ""
    return f"{row.outcome or 'not said yet'}{defects}{damaged}"


@click.command()
@click.argument("run")
@kept_data_option
@json_option
def show(run: str, data: Path, as_json: bool) -> None:
    """Show what a run found: stages, dwells, findings."""
    folder = DataFolder(data)
    with folder.view(run, tolerant=True) as view:
        if as_json:
            print_json(shown(view, fats_of(folder)))
            return
        about = describe(view, view.header.run_id)
        results = view.results() or replay(view, fats_of(folder))
        notes = all_notes(results.notes, view.events())
        corrected = corrections(view.events())
        of_pieces = piece_defects(view.events())
        measured = said_results(view.events())
    say(f"{about.sheet}, revision {about.revision}: run {about.run_id}")
    said = [
        moment_text(about.started),
        duration_text(about.duration_ns / 1e9),
        about.size,
        about.operator,
    ]
    say(", ".join([*filter(None, said), _came_out(about)]))
    for sentence in filter(None, (about.problem, *about.damage)):
        say(sentence)
    if results.stages:
        table(
            "Stages",
            ["stage", "kind", "from", "to"],
            [[s.id, s.kind, clock(s.start_s), clock(s.end_s)] for s in results.stages],
        )
    if results.immersions:
        table(
            "In the bath",
            ["piece", "in", "out", "dwell", "dwell verdict"],
            [_immersion(row) for row in results.immersions],
        )
    for row in measured:
        say(f"Measured: {result_text(row)}")
    for piece, defects in of_pieces.items():
        say(f"Piece {piece}: {', '.join(defects)}")
    if results.findings:
        table(
            "Findings",
            ["stage", "piece", "check", "verdict", "evidence"],
            [
                [f.stage, str(f.piece or ""), f.check, verdict_name(f), f.evidence]
                for f in results.findings
            ],
        )
    for sentence in (*sentences(results.sensors), *lagless.sentences(results.derived)):
        say(sentence)
    for one in corrected:
        say(f"{one.says}{f', by {one.by}' if one.by else ''}")
    for note in notes:
        say(f"Note at {clock(note.t_s)}: {note.text}")


def verdict_name(found: Finding) -> str:
    """Return the verdict of a finding as a person reads it."""
    return verdict_of(
        found.verdict,
        value=found.value,
        u_expanded=found.expanded_uncertainty,
        low=found.low,
        high=found.high,
        assumed=found.assumed,
    )


def _immersion(row: ImmersionRow) -> list[str]:
    return [
        str(row.piece or "?"),
        clock_or_between(row.in_s, row.in_between_s),
        "still in" if row.inside else clock_or_between(row.out_s, row.out_between_s),
        clock_or_between(row.dwell_s, row.dwell_between_s),
        verdict_text(row.verdict),
    ]


@click.command()
@click.argument("run")
@click.argument("came_out", type=click.Choice(["accepted", "rejected"]))
@click.option("--defect", "defects", multiple=True, help="A defect from the sheet's list.")
@click.option("--new-defect", "new", multiple=True, help="A defect that the sheet does not list.")
@click.option(
    "--piece",
    "pieces",
    multiple=True,
    metavar="N=DEFECT",
    help="A defect of one piece: '3=skin burst'.",
)
@click.option(
    "--result",
    "measured",
    multiple=True,
    metavar="NAME=VALUE",
    help="A result of the sheet's list: 'cook loss=12.4 %', 'bite=7 by Ada'.",
)
@click.option("--because", default="", metavar="CAUSE", help="Cause that was found: 'thick_coat'.")
@click.option("--note", "text", default="", help="In your own words.")
@kept_data_option
def outcome(
    run: str,
    came_out: str,
    defects: tuple[str, ...],
    new: tuple[str, ...],
    pieces: tuple[str, ...],
    measured: tuple[str, ...],
    because: str,
    text: str,
    data: Path,
) -> None:
    """Record how a batch came out.

    Pieces that are not named had no defect. Without --piece, earlier defects of pieces stay;
    results that are not given stay as well. A new defect can be given for a piece too.
    --because names a cause by its id in 'explain --json';
    later explanations learn from it.
    """
    folder = DataFolder(data)
    run = folder.find_run(run)
    path = folder.run_path(run)
    with RunView.open(path) as view:
        sheet, results = view.sheet(), view.results()
    known = [*sheet.sheet.defects, *new]
    defects = (*defects, *(one for one in new if one not in defects))
    require_outcome("--defect", came_out, defects, known)
    numbers = {row.piece for row in results.pieces} if results is not None else set()
    by_piece = pieces_said(pieces, known, numbers)
    values = typed_results(measured, sheet.result)
    for row in values:
        require_result("--result", row, sheet.result)
    require_rejected("--because", came_out, because)
    require_cause(folder, because)
    said: dict[str, Any] = {"outcome": came_out, "defects": list(defects), "text": text}
    if new:
        said["new_defects"] = list(new)
    if by_piece:
        said["pieces"] = [{"piece": n, "defects": d} for n, d in by_piece.items()]
    if because:
        said["because"] = because
    if values:
        said["results"] = [asdict(row) for row in values]
    with Client(folder.path) as client:
        try:
            client.send("outcome", run=run, **said)
        except GoneError:
            with RunWriter.reopen(path) as file:
                file.set_outcome(
                    came_out,
                    defects,
                    text,
                    new_defects=new,
                    pieces=by_piece or None,
                    results=values,
                    because=because or None,
                )
    of_pieces = [f"piece {n} {' and '.join(d)}" for n, d in by_piece.items()]
    say(f"Run {run}: {', '.join([came_out, *of_pieces, *map(result_text, values)])}.")


def pieces_said(
    texts: Sequence[str], known: Collection[str], numbers: Collection[int]
) -> dict[int, list[str]]:
    """Return the defects of single pieces, by number of the piece.

    Parameters
    ----------
    texts : sequence of str
        As typed: ``"3=skin burst"``; a piece may be named more than once.
    known : collection of str
        Defects of the sheet.
    numbers : collection of int
        Pieces of the run; empty where they are not known.

    Raises
    ------
    InputError
        If a text has another form, or names another piece or defect.
    """
    found: dict[int, list[str]] = {}
    for text in texts:
        number, _, defect = (part.strip() for part in text.partition("="))
        if not number.isdecimal() or not 1 <= int(number) <= MOST_PIECES or not defect:
            raise InputError("--piece", repr(text), "write '3=skin burst'")
        if numbers and int(number) not in numbers:
            wanted = f"its pieces are {min(numbers)} to {max(numbers)}"
            raise InputError("--piece", f"the run has no piece {int(number)}", wanted)
        require_defects("--piece", [defect], known)
        found.setdefault(int(number), []).append(defect)
    return dict(sorted(found.items()))


@click.command()
@click.argument("run")
@kept_data_option
@json_option
@click.option(
    "--undo", "undo", type=int, metavar="N", help="Take back entry N, one of the last ten."
)
@click.option(
    "--move", "move", type=int, metavar="N", help="Move entry N to another time; with --to."
)
@click.option("--to", "to", metavar="TIME", help="'12:04' on the run's clock, or '-10 s' from it.")
@click.option("--by", "by", help="Who makes the correction. [default: the operator of the run]")
@click.option(
    "--answer", "answer", type=(str, click.Choice(["yes", "no"])), metavar="QUESTION yes|no",
    help="Answer an open question of the list.",
)  # fmt: skip
def events(
    run: str,
    data: Path,
    as_json: bool,
    undo: int | None,
    move: int | None,
    to: str | None,
    by: str | None,
    answer: tuple[str, str] | None,
) -> None:
    """List what was done in a run; undo or move an entry, answer an open question.

    The entries are numbered. The old value of each correction is kept, with who made it and when.
    """
    folder = DataFolder(data)
    run = folder.find_run(run)
    if [undo, move, answer].count(None) < 2:
        raise InputError("--undo, --move, --answer", "several are given", "give one at a time")
    if (move is None) != (to is None):
        raise InputError("--move", "add --to", "write for example: --move 3 --to 12:04")
    acts, asked = _acts(folder, run)
    if answer is not None:
        _answer(folder, run, asked, *answer)
    elif undo is not None:
        _correct(folder, run, Undo(event=undo, by=by, run=run))
    elif move is not None and to is not None:
        act = next((a for a in acts if a.event == move), None)
        if act is None:
            raise InputError("--move", f"there is no entry {move}", f"see: bainlog events {run}")
        _correct(folder, run, Move(event=move, to_s=moment_s(to, act.t_s), by=by, run=run))
    elif as_json:
        questions = [{"question": one.id, "text": one.text} for one in asked]
        print_json({"run": run, "acts": [asdict(act) for act in acts], "questions": questions})
    else:
        _list(acts, asked)


def _list(acts: Sequence[ActRow], asked: Sequence[Proposal]) -> None:
    if not acts:
        say("Nothing was done in this run that could be undone or moved.")
    else:
        if not any(a.event for a in acts):
            say("Entries without a number can't be undone or moved.")
        table(
            "",
            ["number", "at", "what", "before"],
            [[str(a.event or DASH), clock(a.t_s), act_name(a), before_text(a)] for a in acts],
        )
    if asked:
        table("Open questions", ["question", "text"], [[one.id, one.text] for one in asked])


def _answer(
    folder: DataFolder, run: str, asked: Sequence[Proposal], question: str, says: str
) -> None:
    if question not in [one.id for one in asked]:
        seen = f"see: bainlog events {run}"
        raise InputError("--answer", f"there is no open question {question!r}", seen)
    with Client(folder.path) as client:
        client.send("accept" if says == "yes" else "decline", proposal=question)
    say(f"Answered: {says}.")


def _acts(folder: DataFolder, run: str) -> tuple[list[ActRow], list[Proposal]]:
    """Return what was done and is asked, from the recorder where it records this run."""
    with Client(folder.path) as client, contextlib.suppress(GoneError):
        state = client.state()
        if state.run.id == run:
            return [act for act in state.acts if act.event], state.proposals
    with folder.view(run) as view:
        return acts_of(view, fats_of(folder)), []


def _correct(folder: DataFolder, run: str, asked: Undo | Move) -> None:
    """Let the recorder correct a run, or do it here where none runs."""
    with Client(folder.path) as client:
        try:
            said = client.send(asked.do, **asked.model_dump(exclude_unset=True))["says"]
        except GoneError:
            path = folder.run_path(run)
            with RunView.open(path) as view:
                made = corrected_run(view, asked, fats_of(folder), time.time_ns())
            save(path, made)
            said = made.event.text
    say(f"{said}.")

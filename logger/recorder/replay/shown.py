"""What ``bainlog show --json`` prints of a run: the contract of DEVELOPERS.md.

Reads a run file's saved results; a run whose results were never saved (still under way, or cut off)
is judged again.
"""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from logger.model.history import all_notes, corrections, piece_defects, said_because, said_results
from logger.model.plainly import results_as_json
from logger.recorder.replay.beside import told
from logger.recorder.replay.replay import replay
from logger.science.fats.fats import Fat
from logger.store.folder.entries import local_iso
from logger.store.run.runfile import RunView

TABLES = (
    "stages",
    "pours",
    "immersions",
    "pieces",
    "settings",
    "forecasts",
    "weighings",
    "findings",
    "alarms",
    "gaps",
    "notes",
    "acts",
    "sensors",
    "derived",
)


def shown(view: RunView, fats: Mapping[str, Fat]) -> dict[str, Any]:
    """Return the run's identity, tables and single values, JSON-ready.

    Parameters
    ----------
    view : RunView
        The run file.
    fats : mapping
        Fats by key, for a run that has to be judged again.
    """
    damage = [asdict(one) for one in view.damage()]
    results = view.results() or replay(view, fats)
    found = results_as_json(results) | {"derived": told(results.derived)}
    header, sheet, outcome = view.header, view.sheet().sheet, view.outcome()
    run = {
        "id": header.run_id,
        "sheet": sheet.name,
        "revision": sheet.revision,
        "product": sheet.product or sheet.name,
        "started": local_iso(header.started_utc_ns, header.zone),
        "ended": None if view.ended_utc_ns is None else local_iso(view.ended_utc_ns, header.zone),
        "duration_s": view.duration_ns / 1e9,
        "status": view.status,
        "outcome": outcome.outcome,
        "defects": list(outcome.defects),
        "piece_defects": {n: list(d) for n, d in piece_defects(view.events()).items()},
        "because": said_because(view.events()),
        "results": [asdict(row) for row in said_results(view.events())],
        **asdict(view.started_with()),
        "corrections": [asdict(one) for one in corrections(view.events())],
    }
    found["notes"] = [asdict(n) for n in all_notes(results.notes, view.events())]
    tables = {name: found[name] for name in TABLES}
    return {"run": run, "damage": damage, **tables, "values": found["values"]}

"""Faults of one scale that need lines of their own: a unit nobody knows, a flood of numbers."""

import tempfile
from pathlib import Path

from logger.control.client import Client
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from tests.faults.row import Row
from tests.faults.scale import end, table, until, weight_line

FLOOD = 20_000
NO_BATH = '[sheet]\nname = "Rinse only"\n[[stage]]\nid = "rinse"\nkind = "rinse"\n'


def unknown_unit(folder: Path) -> Row:
    """Somebody switches the scale to counting pieces: no line of that is a mass."""
    row = Row(fault="unit nobody knows")
    switched = [1 << 60]

    def line(number: int) -> bytes:
        return weight_line(float(number), "pcs" if number > switched[0] else "g")

    with table(folder, line) as at:
        process = at.recorder()
        try:
            with Client(at.data) as client:
                run_id = client.send("start")["run"]
                until(lambda: len(at.values(run_id)) > 40, "readings")
                switched[0] = at.scale.sent

                until(lambda: _status(client) not in ("live", "waiting"), "a doubt")
                until(lambda: "can't be read" in client.state().ports[0].says, "a reason")
                row.seen = f"{_status(client)}; {client.state().ports[0].says}"
                client.send("run_end")
        finally:
            end(process)
    values = at.values(run_id)
    row.expect(max(values) <= switched[0], "a count of pieces was taken for a mass")
    row.held = f"bad_lines; {len(values)} readings, none of them a count"
    return row


def _status(client: Client) -> str:
    return str(client.state().channels[0].status)


def flood(folder: Path) -> Row:
    """Numbered lines as fast as they are taken: all there, or counted as dropped."""
    row = Row(fault=f"flood of {FLOOD} numbered lines")
    with table(folder) as at:
        (folder / "x.sheet.toml").write_text(NO_BATH)
        process = at.recorder()
        try:
            with Client(at.data) as client:
                run_id = client.send("start")["run"]
                until(lambda: len(at.values(run_id)) > 40, "readings")
                at.scale.flood(FLOOD)
                last = at.scale.sent
                until(lambda: at.values(run_id)[-1] > last + 5, "readings after it", 120.0)
                state = client.state()
                client.send("run_end")
        finally:
            end(process)
    dropped, status = state.recorder.dropped, state.channels[0].status
    values = at.values(run_id)
    missing = int(values[-1] - values[0]) + 1 - len(values)
    row.expect(values == sorted(set(values)), "a number twice, or out of order")
    row.expect(missing == dropped, f"{missing} are missing, {dropped} are said to be")
    row.expect(status == "live", f"afterwards the scale is {status}")
    row.seen = f"{dropped} dropped, the number goes on live" if dropped else "nothing: it is read"
    row.held = f"{len(values)} readings, {missing} missing"
    with RunView.open(DataFolder(at.data).run_path(run_id)) as view:
        row.expect(view.check() == "ok", "the file is damaged")
    return row


def rows() -> list[Row]:
    """Return the rows of both."""
    found = []
    for make in (unknown_unit, flood):
        with tempfile.TemporaryDirectory() as scratch:
            found.append(make(Path(scratch)))
    return found

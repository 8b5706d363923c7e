"""Makes a small run file of today's format: ``python -m tests.trust.todays_run``.

A fixture of each format is kept for ever in ``fixtures/runs``; this is how the next one is made.
Invented data of the virtual bench; with ``.json`` beside it, which says what must be read.
"""

import base64
import gzip
import io
import json
import sys
import tempfile
import threading
from pathlib import Path

from PIL import Image

from logger.control.client import Client
from logger.model.photos.row import photos_said
from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.store.run.schema import CHANGES
from logger.virtual.process import BenchProcess

SPEED, UNTIL_S = 20.0, 30.0
FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "runs"


def what_it_says(view: RunView) -> dict:
    """Return counts and sums that a reader of the file must find again."""
    photos = [[p.piece, p.text, p.sha256] for p in photos_said(view.events())]
    assert all(view.photo(sha256) for _, _, sha256 in photos)
    return {
        **({"photos": photos} if photos else {}),
        "run": view.header.run_id,
        "sheet": view.sheet().sheet.name,
        "duration_ns": view.duration_ns,
        "outcome": view.outcome().outcome,
        "channels": {
            c.id: [
                len(series := view.readings(c.id)),
                repr(float(series.value[series.value == series.value].sum())),
                int(series.t_ns.sum()),
            ]
            for c in view.channels()
        },
        "events": [[e.t_ns, e.kind, e.source, e.text] for e in view.events()],
        "raw_bytes": sum(len(c.data) for c in view.chunks()),
        "stages": [s.id for s in view.results().stages],
        "findings": [
            [f.key, f.subject, f.check, f.stage, f.verdict] for f in view.results().findings
        ],
    }


def tiny_photo() -> bytes:
    """Return a photo of next to nothing."""
    file = io.BytesIO()
    Image.new("RGB", (32, 24), (150, 60, 90)).save(file, "JPEG")
    return file.getvalue()


def main() -> None:
    """Record half a minute of a virtual batch and keep the file."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    target = FOLDER / f"format-{len(CHANGES)}.run.gz"
    if target.exists():
        sys.exit(f"{target} is kept for ever; a new format has a new number")
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        with BenchProcess(folder, seed=5, speed=SPEED, short=True, faults=["open@12+5"]) as bench:
            (folder / "real.toml").write_text(bench.bench_text())
            (folder / "roll.sheet.toml").write_text(bench.sheet_text())
            process = start_process(
                folder / "data", folder / "real.toml", folder / "roll.sheet.toml", speed=SPEED
            )
            with Client(folder / "data") as client:
                bench.restart()
                run_id = client.send("start")["run"]
                pause, said = threading.Event(), False
                while client.state().t_s < UNTIL_S:
                    if not said and client.state().t_s > 22.0:
                        client.send("next")
                        client.send("note", text="fat was lumpy 🥣")
                        said = True
                    pause.wait(0.05)
                client.send("run_end")
                picture = base64.b64encode(tiny_photo()).decode()
                client.send("photo", run=run_id, picture=picture, piece=1, text="on the rack")
                client.send("outcome", run=run_id, outcome="accepted", text="held")
            process.terminate()
            process.wait()
        path = DataFolder(folder / "data").run_path(run_id)
        target.write_bytes(gzip.compress(path.read_bytes(), 9, mtime=0))
        with RunView.open(path) as view:
            says = what_it_says(view)
    text = json.dumps(says, indent=1, ensure_ascii=False)
    target.with_name(target.name.replace(".run.gz", ".json")).write_text(
        text + "\n", encoding="utf-8"
    )
    print(target, target.stat().st_size)


if __name__ == "__main__":
    main()

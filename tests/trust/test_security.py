"""What must hold against a hostile file, page or neighbour; each test tries it."""

import ast
import csv
import io
import json
import os
import socket
import stat
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from logger.control.address import FILE_NAME, read_address
from logger.control.client import Client
from logger.control.messages import encode
from logger.control.server import ControlServer
from logger.model.errors import BainlogError, InputError
from logger.model.event import Event
from logger.model.files import MAX_TEXT, bench_from_text, sheet_from_text
from logger.recorder.setup import read_text
from logger.store.exchange.exporting import export
from logger.store.exchange.importing import read_csv
from logger.store.exchange.table import MAX_BYTES
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

ROOT = Path(__file__).resolve().parents[2]
SOURCES = [*(ROOT / "logger").rglob("*.py"), *(ROOT / "dashboard").rglob("*.py")]
EVIL = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'</title>"
FORMULAS = ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "=cmd|' /C calc'!A0", "＝1+1"]


# -- code -----------------------------------------------------------------------------------


@cache
def calls() -> list[tuple[Path, ast.Call, str]]:
    """Return every call in the sources with its dotted name."""
    return [
        (path, node, ast.unparse(node.func))
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
    ]


def test_nothing_is_unpickled_evaluated_or_run_through_a_shell():
    forbidden = {"eval", "exec", "compile", "__import__", "os.system", "os.popen"}
    unpicklers = {"pickle", "cPickle", "dill", "joblib", "shelve", "marshal"}
    modules, wrong = set(), []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                modules |= {a.name.split(".")[0] for a in node.names}
            elif isinstance(node, ast.ImportFrom):
                modules.add((node.module or "").split(".")[0])
    for path, node, name in calls():
        keywords = {k.arg: ast.unparse(k.value) for k in node.keywords}
        loads = name.split(".")[-1] in {"load", "read_pickle", "to_pickle"} and "np" in name
        if (
            name in forbidden
            or "read_pickle" in name
            or keywords.get("shell", "False") != "False"
            or keywords.get("allow_pickle", "False") != "False"
            or (loads and keywords.get("allow_pickle") != "False")
        ):
            wrong.append(f"{path.relative_to(ROOT)}:{node.lineno}: {ast.unparse(node)[:80]}")
    assert not wrong
    assert not modules & unpicklers


def test_the_search_for_forbidden_calls_finds_them():
    found = ast.unparse(
        next(n for n in ast.walk(ast.parse("eval('1')")) if isinstance(n, ast.Call))
    )
    assert found == "eval('1')"
    assert len(calls()) > 3000


def test_no_page_part_takes_html_that_it_did_not_make():
    """Dash escapes children; these are the doors around that."""
    doors = ("dangerously_allow_html", "DangerouslySetInnerHTML", "Markup(", "|safe")
    for path in SOURCES:
        text = path.read_text(encoding="utf-8")
        assert not [d for d in doors if d in text], path
    for path in (ROOT / "dashboard").rglob("*.js"):
        text = path.read_text(encoding="utf-8")
        for door in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert door not in text, f"{path}: {door}"


# -- files ----------------------------------------------------------------------------------

STAGE = '[sheet]\nname = "x"\n[[stage]]\nid = "a"\nkind = "heat"\n'
INGREDIENT = '[sheet]\nname = "x"\n[[ingredient]]\nname = "a"\nphase = "fat"\n'
BOMBS = {
    "too long": "#" * (MAX_TEXT + 1),
    "nested lists": "a = " + "[" * 100_000 + "]" * 100_000,
    "nested tables": "a = " + "{b=" * 50_000 + "1" + "}" * 50_000,
    "dotted key": "[" + ".".join("a" * 1 for _ in range(100_000)) + "]",
    "huge integer": "a = " + "9" * 100_000,
    "huge exponent": STAGE + 'fat = { low = "1e999999 degC" }',
    "power tower": INGREDIENT + 'mass = "9**9**9**9 g"',
    "unit bomb": INGREDIENT + 'mass = "1 ' + "g*" * 50_000 + 'g"',
}


@pytest.mark.parametrize("read", [sheet_from_text, bench_from_text], ids=["sheet", "bench"])
@pytest.mark.parametrize("bomb", BOMBS)
@pytest.mark.usefixtures("little_work")
def test_a_toml_bomb_is_refused_in_words(read, bomb):
    with pytest.raises(InputError) as told:
        read(BOMBS[bomb], "evil.toml")
    assert len(str(told.value)) < 5_000


def test_a_huge_file_in_place_of_a_sheet_is_refused_by_its_size_unread(tmp_path):
    path = tmp_path / "huge.sheet.toml"
    with path.open("wb") as out:
        out.truncate(3_000_000_000)  # sparse: takes no room
    with pytest.raises(InputError, match="3000000000 bytes"):
        read_text(path)


def test_a_huge_csv_is_refused_by_its_size_unread(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as out:
        out.truncate(MAX_BYTES + 1)
    with pytest.raises(InputError, match="bytes"):
        read_csv(path)


@pytest.mark.parametrize(
    "text",
    [
        "time_s," + ",".join(f"c{n}" for n in range(5_000)) + "\n1\n",
        "time_s,fat [degC]\n1," + "9" * 100_000 + "\n",
        'time_s,fat [degC]\n1,"' + "x" * 200_000 + '"\n',
        "time_s,fat [degC]\n1,=cmd|' /C calc'!A0\n",
        "time_s,fat [degC]\n1e300,20\n",
        "time_s,fat [" + "degC*" * 30_000 + "degC]\n1,20\n",
    ],
    ids=["columns", "digits", "cell", "formula", "time", "unit"],
)
@pytest.mark.usefixtures("little_work")
def test_a_csv_bomb_is_refused_in_words(text):
    with pytest.raises(InputError) as told:
        read_csv(text)
    assert len(str(told.value)) < 5_000


@pytest.fixture
def evil_run(tmp_path):
    """A run whose every text is hostile."""
    sheet = f'[sheet]\nname = {json.dumps(EVIL)}\n[[stage]]\nid = "skin"\nkind = "set"\n'
    bench = (
        f'[bench]\nname = {json.dumps(EVIL)}\n[[instrument]]\nid = "s"\nport = "/dev/x"\n'
        'shape = "flag-first comma weight"\n[[channel]]\nid = "m"\ninstrument = "s"\n'
        f'field = "mass"\nrole = "bath_scale"\nlabel = {json.dumps(EVIL)}\n'
    )
    folder = DataFolder(tmp_path / "data")
    path = folder.run_path("20261125-0913-a3f2")
    header = RunHeader(
        run_id="20261125-0913-a3f2",
        sheet_json=sheet_from_text(sheet, "s").model_dump_json(by_alias=True),
        sheet_text=sheet,
        bench_json=bench_from_text(bench, "b").model_dump_json(by_alias=True),
        bench_text=bench,
        started_utc_ns=1_795_600_000_000_000_000,
        channels=(ChannelRecord("m", "s", "mass", "bath_scale", "g"),),
    )
    events = [
        Event(t_ns=n, kind="note", source="operator", text=t)
        for n, t in enumerate([EVIL, *FORMULAS])
    ]
    with RunWriter.create(path, header) as file:
        readings = [StoredReading("m", n * 100_000_000, 5000.0 + n % 3) for n in range(50)]
        file.write(WriteBatch(readings=readings, events=events))
        file.set_outcome("rejected", (), EVIL)
        file.finish(None, 1_795_600_100_000_000_000)
    return folder, path


def test_no_cell_of_a_csv_export_is_run_by_a_spreadsheet(evil_run, tmp_path):
    with RunView.open(evil_run[1]) as view:
        place = export(view, "csv", tmp_path / "out")
    seen = 0
    for path in place.glob("*.csv"):
        for row in csv.reader(io.StringIO(path.read_bytes().decode(), newline="")):
            seen += any(cell.removeprefix("'") in FORMULAS for cell in row)
            for cell in row:
                if cell.startswith(("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")):
                    float(cell)  # a number may have a sign; nothing else may
    assert seen >= len(FORMULAS)


def test_hostile_text_is_escaped_in_the_report(evil_run, tmp_path):
    folder, path = evil_run
    target = tmp_path / "report.html"
    done = subprocess.run(
        [Path(sys.executable).parent / "bainlog", "report", path.stem, "-o", target,
         "--data", folder.path],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    page = target.read_text(encoding="utf-8")
    assert "alert(1)" in page
    for open_door in ("<script>alert(1)", "<img src=x", "</title><"):
        assert open_door not in page, open_door


# -- paths ----------------------------------------------------------------------------------

PATHS = [
    "../secret", "..", "/etc/passwd", "a/../../secret", "..\\secret", "C:\\secret", "a\x00b", "",
    "~root", "run/../../x", "%2e%2e/secret", ". .", "\ud800",
]  # fmt: skip


@pytest.mark.parametrize("name", PATHS)
def test_no_name_leads_out_of_the_data_folder(tmp_path, name):
    (tmp_path / "secret").write_text("[sheet]\nname = 'x'\n")
    (tmp_path / "secret.run").write_bytes(b"x")
    (tmp_path / "secret.sheet.toml").write_text("[sheet]\nname = 'x'\n")
    folder = DataFolder(tmp_path / "data")
    for door in (folder.run_path, folder.sheet_path, folder.find_run):
        try:
            found = door(name)
        except BainlogError:
            continue
        where = (folder.path / str(found)).resolve()
        assert where.is_relative_to(folder.path.resolve()), f"{door.__name__}: {found}"
    with pytest.raises(BainlogError):
        folder.save_sheet(name, "[sheet]\nname = 'x'\n")


# -- control line -----------------------------------------------------------------------------


@pytest.fixture
def line(tmp_path):
    asked = []
    server = ControlServer(tmp_path, lambda do, data: asked.append(do))
    server.start()
    yield tmp_path, server, asked
    server.stop()


def said(port: int, *messages: bytes) -> list[bytes]:
    with socket.create_connection(("127.0.0.1", port), timeout=60) as s:
        s.sendall(b"".join(messages))
        s.shutdown(socket.SHUT_WR)
        return s.makefile("rb").readlines()


@pytest.mark.parametrize("token", ["", "guess", "a" * 43, "\u00e9", "x" * 100_000, None, 5, []])
def test_without_the_token_nothing_is_asked(line, token):
    _, server, asked = line
    reply = said(server.port, encode({"token": token, "do": "mark", "data": {}}))
    assert len(reply) == 1
    assert json.loads(reply[0])["ok"] is False
    assert asked == []


@pytest.mark.skipif(os.name != "posix", reason="file modes are a POSIX matter")
def test_the_token_is_for_its_own_user_alone_and_new_each_time(line):
    folder, _, _ = line
    assert stat.S_IMODE((folder / FILE_NAME).stat().st_mode) == 0o600
    first = read_address(folder).token
    assert len(first) >= 43
    other = ControlServer(folder, lambda do, data: None)
    other.start()
    assert read_address(folder).token != first
    other.stop()


def test_the_control_line_listens_on_loopback_alone(line):
    assert line[1]._server.server_address[0] == "127.0.0.1"


def test_a_page_that_posts_to_the_control_line_is_not_understood(line):
    """A web page can make a browser send HTTP to any local port; its lines are no JSON."""
    folder, server, asked = line
    with Client(folder) as client:
        client.ask("ping")
    asked.clear()
    http = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: text/plain\r\n\r\n"
    replies = said(server.port, http, encode({"token": "guess", "do": "mark", "data": {}}))
    assert all(json.loads(reply)["ok"] is False for reply in replies)
    assert asked == []

"""A run leaves this computer by the two routes of its page, and only for who may ask."""

import io
import json
import zipfile

import pytest

from dashboard.app import build_app
from dashboard.links import Links
from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.model.finding import Results
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter

RUN, OPEN = "20261125-0913-a3f2", "20261125-1013-a3f2"
SHEET = '[sheet]\nname = "Smoked beet and barley roll"\n'
HERE = {"Host": "127.0.0.1"}
TOKEN = "beet-root"  # noqa: S105 - of this test alone


def write_run(folder, run_id, *, ended=True):
    header = RunHeader(
        run_id=run_id,
        sheet_json=sheet_from_text(SHEET, "test").model_dump_json(by_alias=True),
        sheet_text=SHEET,
        bench_json=bench_of_roles(["fat"]).model_dump_json(by_alias=True),
        bench_text="",
        started_utc_ns=1_795_597_980 * 10**9,
        channels=(ChannelRecord("fat", "import", "fat", "fat", "degC"),),
    )
    (folder / "runs").mkdir(exist_ok=True)
    with RunWriter.create(folder / "runs" / f"{run_id}.run", header) as file:
        readings = [StoredReading("fat", t * 10**9, 40.0 + t) for t in range(20)]
        file.write(WriteBatch(readings=readings))
        if ended:
            file.finish(Results(), header.started_utc_ns + 20 * 10**9)
    if ended:
        with RunWriter.reopen(folder / "runs" / f"{run_id}.run") as file:
            file.add_note("<script>alert(1)</script>")


@pytest.fixture
def client(tmp_path, fake_client):
    write_run(tmp_path, RUN)
    return build_app(tmp_path, links=Links(tmp_path, fake_client)).server.test_client()


def test_the_report_is_a_page_and_a_note_added_later_stands_in_it_as_text(client):
    answer = client.get(f"/runs/{RUN}/report", headers=HERE)
    page = answer.get_data(as_text=True)
    assert answer.mimetype == "text/html"
    assert "Smoked beet and barley roll" in page
    assert "&lt;script&gt;alert(1)" in page
    assert "<script" not in page
    assert "Content-Disposition" not in answer.headers


def test_the_report_can_be_had_as_pages_to_print(client):
    answer = client.get(f"/runs/{RUN}/report?as=pdf", headers=HERE)
    assert answer.mimetype == "application/pdf"
    assert answer.data.startswith(b"%PDF")


def test_the_report_can_be_saved(client):
    answer = client.get(f"/runs/{RUN}/report?save=1", headers=HERE)
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{RUN}-report.html"'


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_a_table_comes_as_one_packed_folder(client, kind):
    with client.get(f"/runs/{RUN}/export/{kind}", headers=HERE) as answer:
        assert f"{RUN}-{kind}.zip" in answer.headers["Content-Disposition"]
        packed_bytes = answer.get_data()
    with zipfile.ZipFile(io.BytesIO(packed_bytes)) as packed:
        assert packed.testzip() is None
        assert f"{RUN}/run.json" in packed.namelist()
        assert f"{RUN}/readings.{kind}" in packed.namelist()


def test_json_holds_every_reading(client):
    with client.get(f"/runs/{RUN}/export/json", headers=HERE) as answer:
        assert answer.mimetype == "application/json"
        found = json.loads(answer.get_data())
    assert len(found["readings"]["fat"]["value"]) == 20


@pytest.mark.parametrize(
    "path",
    [
        "/runs/20261125-0913-ffff/report",
        "/runs/nonsense/export/csv",
        f"/runs/{RUN}/export/exe",
    ],
)
def test_what_is_not_there_is_told_in_a_sentence(client, path):
    answer = client.get(path, headers=HERE)
    said = answer.get_data(as_text=True)
    assert answer.status_code == 404
    assert "Traceback" not in said


def test_a_run_that_is_not_over_has_no_report_yet(client, tmp_path):
    write_run(tmp_path, OPEN, ended=False)
    answer = client.get(f"/runs/{OPEN}/report", headers=HERE)
    assert answer.status_code == 404
    assert "end it first" in answer.get_data(as_text=True)


@pytest.mark.parametrize("path", [f"/runs/{RUN}/report", f"/runs/{RUN}/export/json"])
def test_only_who_may_ask_gets_a_run(client, tmp_path, fake_client, path):
    assert client.get(path, headers={"Host": "kitchen.example"}).status_code == 400
    app = build_app(tmp_path, links=Links(tmp_path, fake_client), token=TOKEN, lan=True)
    on_lan, host = app.server.test_client(), {"Host": "192.168.1.7:8420"}
    assert on_lan.get(path, headers=host).status_code == 403
    on_lan.set_cookie("bainlog_token", TOKEN, domain="192.168.1.7")
    with on_lan.get(path, headers=host, base_url="http://192.168.1.7:8420") as answer:
        assert answer.status_code == 200


def test_another_site_cannot_make_this_machine_write_a_run_out(client):
    foreign = {**HERE, "Sec-Fetch-Site": "cross-site"}
    assert client.get(f"/runs/{RUN}/export/csv", headers=foreign).status_code == 403

"""Photos of a run are given out by digest and taken in for the recorder to write."""

import base64
import io

import pytest
from PIL import Image

from dashboard.app import build_app
from dashboard.links import Links
from logger.control.client import GoneError
from logger.model.photos.jpeg import require_kept_form
from logger.model.photos.row import photos_said
from logger.store.run.runfile import RunView, RunWriter
from tests.dashboard.runs.test_handing import HERE, RUN, write_run


def picture(form="JPEG", colour="red"):
    file = io.BytesIO()
    Image.new("RGB", (30, 20), colour).save(file, form)
    return file.getvalue()


@pytest.fixture
def client(tmp_path, fake_client):
    write_run(tmp_path, RUN)
    return build_app(tmp_path, links=Links(tmp_path, fake_client)).server.test_client()


def test_a_photo_is_given_out_by_its_digest(client, tmp_path):
    path = tmp_path / "runs" / f"{RUN}.run"
    with RunWriter.reopen(path) as file:
        file.add_photo(picture(), text="<b>rack</b>")
    (shown,) = photos_said(RunView.open(path).events())
    answer = client.get(f"/runs/{RUN}/photo/{shown.sha256}", headers=HERE)
    assert (answer.mimetype, answer.data) == ("image/jpeg", picture())
    page = client.get(f"/runs/{RUN}/report", headers=HERE).get_data(as_text=True)
    assert "&lt;b&gt;rack&lt;/b&gt;" in page
    assert base64.b64encode(picture()).decode() in page
    for wrong in ("0" * 64, "x", shown.sha256.upper()):
        assert client.get(f"/runs/{RUN}/photo/{wrong}", headers=HERE).status_code == 404


def test_a_photo_that_comes_in_is_made_plain_and_sent_to_the_recorder(client, fake_client):
    about = "name=shot.png&piece=3&text=seam"
    answer = client.post(f"/runs/{RUN}/photo?{about}", data=picture("PNG"), headers=HERE)
    assert (answer.status_code, answer.get_data(as_text=True)) == (200, "Saved.\n")
    kind, sent = fake_client.sent[-1]
    assert (kind, sent["run"], sent["piece"], sent["text"]) == ("photo", RUN, 3, "seam")
    assert require_kept_form(base64.b64decode(sent["picture"])).width == 30


def test_what_is_no_picture_or_has_no_recorder_is_told(client, fake_client, monkeypatch):
    answer = client.post(f"/runs/{RUN}/photo?name=a.txt", data=b"hello", headers=HERE)
    assert answer.status_code == 400
    said = answer.get_data(as_text=True)
    assert said == "Not saved. a.txt: not a picture that can be read; give a JPEG, PNG or WebP\n"
    odd = client.post(f"/runs/{RUN}/photo?piece=x", data=picture(), headers=HERE)
    assert "give the number of a piece" in odd.get_data(as_text=True)

    def gone(*_asked, **_more):
        raise GoneError("nobody")

    monkeypatch.setattr(fake_client, "send", gone)
    answer = client.post(f"/runs/{RUN}/photo", data=picture(), headers=HERE)
    assert f"bainlog photo {RUN} FILE" in answer.get_data(as_text=True)


def test_another_site_can_add_or_remove_no_photo(client, fake_client):
    for more in ({"Sec-Fetch-Site": "cross-site"}, {"Origin": "http://elsewhere.example"}):
        answer = client.post(f"/runs/{RUN}/photo", data=picture(), headers=HERE | more)
        assert answer.status_code == 403
        answer = client.delete(f"/runs/{RUN}/photo/{'0' * 64}", headers=HERE | more)
        assert answer.status_code == 403
    assert fake_client.sent == []


def test_a_removal_goes_to_the_recorder_and_is_told_where_there_is_none(
    client, fake_client, monkeypatch
):
    answer = client.delete(f"/runs/{RUN}/photo/{'a' * 64}", headers=HERE)
    assert (answer.status_code, answer.get_data(as_text=True)) == (200, "Removed.\n")
    assert fake_client.sent[-1] == ("remove_photo", {"run": RUN, "sha256": "a" * 64})

    def gone(*_asked, **_more):
        raise GoneError("nobody")

    monkeypatch.setattr(fake_client, "send", gone)
    answer = client.delete(f"/runs/{RUN}/photo/{'a' * 64}", headers=HERE)
    assert f"bainlog photo {RUN} --remove N" in answer.get_data(as_text=True)

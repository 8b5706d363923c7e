"""Who may ask: only this machine by default, with a token on the local network."""

import pytest
from flask.testing import FlaskClient

from dashboard.app import build_app
from dashboard.links import Links

TOKEN = "beet-root"  # noqa: S105 - of this test alone
PATHS = ["/", "/_dash-layout", "/_dash-dependencies", "/assets/bench.js", "/runs/../../etc/passwd"]


@pytest.fixture
def here(tmp_path, fake_client) -> FlaskClient:
    return build_app(tmp_path, links=Links(tmp_path, fake_client)).server.test_client()


@pytest.fixture
def on_lan(tmp_path, fake_client) -> FlaskClient:
    app = build_app(tmp_path, links=Links(tmp_path, fake_client), token=TOKEN, lan=True)
    return app.server.test_client()


@pytest.mark.parametrize("host", ["127.0.0.1:8420", "localhost"])
def test_this_machine_may_ask(here, host):
    assert here.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("host", ["kitchen.example", "127.0.0.1.example", "192.168.1.7"])
def test_a_foreign_host_name_is_refused(here, path, host):
    assert here.get(path, headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("path", PATHS)
def test_the_local_network_needs_the_token_on_every_path(on_lan, path):
    assert on_lan.get(path, headers={"Host": "192.168.1.7:8420"}).status_code == 403


def test_a_wrong_token_is_refused(on_lan):
    answer = on_lan.get("/?token=beet-rooT", headers={"Host": "192.168.1.7"})
    assert answer.status_code == 403


def test_the_token_moves_from_the_address_into_a_cookie(on_lan):
    host = {"Host": "192.168.1.7:8420"}
    first = on_lan.get("/?token=beet-root", headers=host)
    assert first.status_code == 303
    assert first.headers["Location"] == "/"
    cookie = first.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    value = cookie.split(";")[0]
    assert on_lan.get("/", headers={**host, "Cookie": value}).status_code == 200


def test_a_name_on_the_local_network_is_refused_even_with_the_token(on_lan):
    headers = {"Host": "kitchen.example", "Cookie": "bainlog_token=beet-root"}
    assert on_lan.get("/", headers=headers).status_code == 400


def test_a_lan_screen_without_a_token_cannot_be_built(tmp_path, fake_client):
    with pytest.raises(ValueError, match="token"):
        build_app(tmp_path, links=Links(tmp_path, fake_client), lan=True)


def test_a_post_from_another_site_is_refused(here):
    headers = {"Host": "127.0.0.1", "Origin": "http://kitchen.example"}
    assert here.post("/_dash-update-component", json={}, headers=headers).status_code == 403


def test_headers_keep_the_page_to_itself(here):
    headers = here.get("/", headers={"Host": "127.0.0.1"}).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe-eval" not in policy
    assert headers["Referrer-Policy"] == "no-referrer"


def test_the_page_names_no_other_machine(here):
    page = here.get("/", headers={"Host": "127.0.0.1"}).get_data(as_text=True)
    assert "http://" not in page
    assert "https://" not in page

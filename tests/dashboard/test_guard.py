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


def test_a_page_without_the_token_asks_for_it_and_then_opens_what_was_asked_for(on_lan):
    host = {"Host": "192.168.1.7:8420"}
    asked = on_lan.get("/sheets?sheet=roll", headers=host)
    page = asked.get_data(as_text=True)
    assert (asked.status_code, asked.mimetype) == (403, "text/html")
    assert '<form method="post">' in page
    assert asked.headers["Referrer-Policy"] == "same-origin"  # else a browser's Origin is "null"
    assert "<script" not in page
    assert TOKEN not in page
    for typed in (TOKEN, f"http://192.168.1.7:8420/?token={TOKEN} "):
        opened = on_lan.post("/sheets?sheet=roll", data={"token": typed}, headers=host)
        assert (opened.status_code, opened.headers["Location"]) == (303, "/sheets?sheet=roll")
        assert opened.headers["Set-Cookie"].startswith("bainlog_token=")
        on_lan.delete_cookie("bainlog_token", domain="192.168.1.7")


def test_a_token_typed_wrong_is_told_and_one_from_another_site_is_not_taken(on_lan):
    host = {"Host": "192.168.1.7:8420"}
    wrong = on_lan.post("/sheets", data={"token": "<b>beet</b>"}, headers=host)
    assert wrong.status_code == 403
    assert "That is not the token." in wrong.get_data(as_text=True)
    assert "<b>beet" not in wrong.get_data(as_text=True)
    foreign = {**host, "Origin": "http://kitchen.example"}
    assert on_lan.post("/sheets", data={"token": TOKEN}, headers=foreign).status_code == 403
    long = on_lan.post("/sheets", data={"token": TOKEN, "x": "y" * 3000}, headers=host)
    assert long.status_code == 403
    assert "Set-Cookie" not in long.headers


def test_a_token_in_the_address_of_another_place_stays_on_this_machine(on_lan):
    host = {"Host": "192.168.1.7:8420"}
    there = {"PATH_INFO": "//kitchen.example/x"}
    answer = on_lan.get("/?token=beet-root&sheet=a", headers=host, environ_overrides=there)
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/kitchen.example/x?sheet=a"

"""Every callback, with what no page sends: 400 and one line, never 500; the server answers on."""

import json
import logging
import random
import re

import pytest

from dashboard.app import build_app
from dashboard.doors import refusals
from dashboard.doors.payloads import BEAT, PATH
from dashboard.links import Links

HOST = {"Host": "127.0.0.1"}
DEEP = "[" * 400 + "]" * 400
VALUES = [
    None, True, False, 0, -1, 3, 2.5, 10**30, 1e308, "", "x", "\ud800", "a" * 5_000, "../../etc",
    "20261125-0913-a3f2", "?run=%ff", [], {}, [None], [1, "a", {}], ["x"] * 50, {"a": {"b": []}},
    {"n": "x"}, {"n": [1], "window": {}, "from": "y"}, {"theme": [], "temp": 3, "mass": {}},
    {"name": "start-dialog"}, {"do": "start", "data": []}, {"do": [], "data": {"a": 1}},
    {"do": "outcome", "about": {"outcome": 5}}, {"strip": {"run": 5}, "parts": [1]},
    json.loads(DEEP), {"kind": None}, {"text": 5}, {"run_id": {"x": 1}}, float("nan"),
]  # fmt: skip
SEED = 20_261_125


@pytest.fixture
def app(tmp_path, fake_client):
    return build_app(tmp_path, links=Links(tmp_path, fake_client))


def body_of(output, about, values):
    def parts(places):
        return [{**place, "value": values()} for place in places]

    own = about["output"]
    listed = own if isinstance(own, list) else [own]
    outputs = [{"id": o.component_id, "property": o.component_property} for o in listed]
    return {
        "output": output,
        "outputs": outputs if isinstance(own, list) else outputs[0],
        "inputs": parts(about["inputs"]),
        "state": parts(about["state"]),
        "changedPropIds": [f"{p['id']}.{p['property']}" for p in about["inputs"][:1]],
    }


def of_the_server(app):
    return {k: v for k, v in app.callback_map.items() if "callback" in v}


def post(client, body):
    text = body if isinstance(body, str) else json.dumps(body)
    return client.post(PATH, data=text, headers=HOST, content_type="application/json")


def test_wrong_values_in_every_callback_are_answered_in_a_line(app, caplog, monkeypatch):
    monkeypatch.setattr(refusals, "MOST_LINES", 10**9)
    client, drawn, refused, tried = app.server.test_client(), random.Random(SEED), 0, 0
    caplog.set_level(logging.WARNING)
    for output, about in of_the_server(app).items():
        for n in range(len(VALUES) + 15):
            caplog.clear()
            values = (lambda n=n: VALUES[n]) if n < len(VALUES) else lambda: drawn.choice(VALUES)
            answer = post(client, body_of(output, about, values))
            assert answer.status_code in (200, 204, 400), (output, n, answer.status_code)
            assert not [r for r in caplog.records if r.exc_info], (output, n)
            if answer.status_code == 400:
                refused += 1
                assert len([r for r in caplog.records if r.levelno >= logging.WARNING]) == 1
                assert answer.get_data(as_text=True).count("\n") == 1
            tried += 1
    assert refused > 20, "nothing was refused: the wrong values were not wrong"
    assert tried > 1_000
    assert client.get("/", headers=HOST).status_code == 200


def test_wrong_values_in_a_beat_are_answered_in_a_line(app, caplog, monkeypatch):
    monkeypatch.setattr(refusals, "MOST_LINES", 10**9)
    client, found = app.server.test_client(), set()
    known = {"parts": {}, "looks": "", "strip": {}}
    for value in VALUES:
        strip = {"key": "x", "turn": value, "ranges": value, "t_ns": value, "tail": 1}
        for asked in (
            value,
            {"ask": value, "known": value, "choices": value},
            {"ask": {"n": value}, "known": {**known, "strip": strip}},
        ):
            caplog.clear()
            answer = client.post(
                BEAT, data=json.dumps(asked), headers=HOST, content_type="application/json"
            )
            assert answer.status_code in (200, 400), asked
            assert not [r for r in caplog.records if r.exc_info], asked
            found.add(answer.status_code)
    assert found == {200, 400}


WRONG_BODIES = [
    "", "null", "[]", "5", '"x"', "{}", "{", DEEP, '{"a":' * 20_000, '{"output": 5}',
    '{"output": ["x"]}', '{"output": {"a": 1}}', '{"output": "no.such"}',
    '{"output": "page.children"}', '{"output": "page.children", "inputs": 5}',
    '{"output": "page.children", "inputs": [5], "outputs": []}',
    '{"output": "page.children", "inputs": [[{}]], "outputs": {}}',
    '{"output": "page.children", "inputs": [{"id": "where", "property": "pathname"}]}',
    '{"output": "page.children", "inputs": [{"id": "where", "property": "pathname"}], '
    '"outputs": {"id": "x", "property": "children"}}',
    '{"output": "page.children", "inputs": [{"id": {"a": []}, "property": []}], "outputs": 5}',
    '{"output": "page.children", "inputs": [{"id": "where", "property": "pathname"}], '
    '"outputs": {"id": "page", "property": "children"}, "changedPropIds": [[]]}',
    '{"output": "frame.forceColorScheme", "inputs": [{"id": "choices", "property": "data"}]}',
]  # fmt: skip


@pytest.mark.parametrize("body", WRONG_BODIES, ids=range(len(WRONG_BODIES)))
def test_a_body_that_no_page_sends_is_answered_400(app, caplog, body):
    answer = post(app.server.test_client(), body)
    assert answer.status_code == 400
    assert not [r for r in caplog.records if r.exc_info]


def test_an_honest_request_passes(app):
    about = app.callback_map["page.children"]
    answer = post(app.server.test_client(), body_of("page.children", about, lambda: "/runs"))
    assert answer.status_code == 200
    assert "runs-list" in answer.get_data(as_text=True)


@pytest.mark.parametrize(
    "path",
    [
        "../..",
        "dash/..%2f..%2fx.js",
        "x/y.js",
        "dash/nope.js",
        "dash/%00.js",
        "dash/" + "a" * 5_000,
    ],
)
def test_a_script_that_no_page_loads_is_not_found_and_leaves_no_traceback(app, caplog, path):
    app.server.config["PROPAGATE_EXCEPTIONS"] = False
    answer = app.server.test_client().get(f"/_dash-component-suites/{path}", headers=HOST)
    assert answer.status_code == 404
    assert not [r for r in caplog.records if r.exc_info]
    assert all(len(r.getMessage()) < 300 for r in caplog.records)


def test_all_that_the_head_and_foot_of_a_page_name_is_served(app):
    client = app.server.test_client()
    pages = [client.get(path, headers=HOST).get_data(as_text=True) for path in ("/", "/compare")]
    named = [set(re.findall(r'(?:src|href)="(/(?:_dash|assets)[^"]+)"', page)) for page in pages]
    graphs = {path.partition(".")[0].rpartition("/")[2] for path in named[1] - named[0]}
    assert graphs == {"plotly", "async-graph"}  # fetched beside the rest, where there is a graph
    for path in named[1]:
        with client.get(path, headers=HOST) as answer:
            assert answer.status_code == 200, path
            if "plotly" in path or path.startswith("/assets/"):
                assert "max-age" in answer.headers["Cache-Control"], path


def test_many_refusals_leave_few_lines(app, caplog):
    client = app.server.test_client()
    for _ in range(300):
        assert post(client, "{}").status_code == 400
    assert len(caplog.records) == refusals.MOST_LINES


def test_a_bug_elsewhere_is_still_a_bug(app):
    @app.server.get("/bug")
    def _bug():
        raise ValueError("a bug")

    app.server.config["PROPAGATE_EXCEPTIONS"] = False
    assert app.server.test_client().get("/bug", headers=HOST).status_code == 500

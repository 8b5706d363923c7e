"""Sheets, instruments, one run and the first start in a real browser, on a real recorder.

Two probes on a pseudo-terminal do what the test says. axe finds nothing in dark and light, on a
tablet and a phone; every button is 44 px high or more; nothing is wider than the screen.
"""

import contextlib
import os
import re
import threading
import tty
import zipfile
from pathlib import Path

import pytest

from dashboard.serve import open_screen
from logger.control.client import Client
from logger.model.files import bench_from_text, sheet_from_text
from logger.ports.clock import Clock
from logger.recorder.live.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.store.folder.datafolder import DataFolder
from tests.dashboard.pages import expect, forms, pick, small_targets

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SPEED = 20.0
BENCH = """# my table
[[instrument]]
id = "probes"
port = "{port}"
shape = "comma list of probes"

[[channel]]
id = "t1"
instrument = "probes"
field = "t1"
role = "fat"
resolution = 0.01
sensor = {{ kind = "thermocouple", type = "T", class = 1, converter = "0.3 K" }}
correction = {{ offset = "0.1 K", checked = 2020-02-03, by = "ice point" }}

[[channel]]
id = "t2"
instrument = "probes"
field = "t2"
role = "water"
"""
SHEET = """# my roll
[sheet]
name = "Smoked beet and barley roll"
revision = 4   # counts up by itself

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "6 min", high = "12 min" }

[[result]]
name = "cook loss"
unit = "%"
"""


PANTRY = """# what is there
[sheet]
name = "Pantry"

[[ingredient]]
name = "butter"
phase = "fat"
mass = "180 g" # weighed cold

[[stage]]
id = "weigh"
kind = "weigh"
"""
SHOT = Path(__file__).resolve().parents[2] / "fixtures" / "pictures" / "at_the_bench.png"
LIVE = """
() => window.bainlogStrip?.traces.some(
  (line) => String(line.meta).startsWith("tail:") && line.x.length > 5)
"""
"""Some trace grows."""
CLICKS = "window.clicks = 0; addEventListener('pointerdown', () => (clicks += 1), true)"


class Probes:
    """Two probes that show what they are told to, fifty times a second."""

    line = "{0:.2f},{1:.2f},,\r\n"

    def __init__(self) -> None:
        self.temps_c = [0.36, 21.0]
        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.port = os.ttyname(self._slave)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._stopping.wait(0.02):
            with contextlib.suppress(BlockingIOError):
                os.write(self._master, self.line.format(*self.temps_c).encode())

    def stop(self) -> None:
        self._stopping.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)


class Kitchen:
    """A data folder with its recorder and a screen, in this process."""

    def __init__(self, path: Path, port: str | None) -> None:
        self.folder = DataFolder(path)
        self.folder.save_sheet("beet roll", SHEET)
        self.folder.save_sheet("pantry", PANTRY)
        bench = None
        if port is not None:
            bench = self.folder.bench_file
            bench.write_text(BENCH.format(port=port))
        self._recorder = Recorder(
            self.folder, setup_from_files(self.folder, bench, None), Clock(SPEED), bench
        )
        self._recorder.start()
        self.client = Client(path)
        self._screen = open_screen(path, port=0)
        self.url = self._screen.url
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):  # its sockets are taken away to stop it
            self._screen.run()

    def stop(self) -> None:
        self._screen.close()
        self.client.close()
        self._recorder.stop()


@pytest.fixture(scope="module")
def probes():
    made = Probes()
    yield made
    made.stop()


@pytest.fixture(scope="module")
def kitchen(probes, tmp_path_factory):
    made = Kitchen(tmp_path_factory.mktemp("kitchen"), probes.port)
    yield made
    made.stop()


@pytest.fixture
def in_reach(violations, shoot):
    """Return a function that looks at a page in both themes and sizes."""

    def look(page, name: str) -> None:
        page.set_default_timeout(120_000)
        for form in forms(page):
            shoot(page, f"{name}-{form}")
            assert violations(page) == []
            assert small_targets(page) == []

    return look


def as_text(page):
    page.get_by_text("Text", exact=True).and_(page.locator("#sheet-view *")).click()
    expect(page.locator("#sheet-text")).to_be_visible()


def test_a_sheet_is_mended_saved_and_compared(kitchen, open_page, in_reach, shoot):
    page = open_page(kitchen.url + "sheets")
    pick(page, "#sheet-pick", "beet roll")
    expect(page.locator("#sheet-name")).to_have_value("beet roll")
    as_text(page)
    page.fill("#sheet-text", SHEET.replace("12 min", "12 kg"))
    wrong = page.locator(".wrongs li")
    expect(wrong).to_have_count(1)
    expect(wrong).to_contain_text("Line 9")
    expect(wrong).to_contain_text("stage[1].dwell")
    expect(wrong).to_contain_text("12 kg")
    page.click("#sheet-save")
    expect(page.locator("#sheet-said")).to_contain_text("Not saved")
    in_reach(page, "sheet-wrong")
    page.fill("#sheet-text", SHEET.replace("12 min", "10 min"))
    expect(page.locator("#sheet-plan")).to_contain_text("revision 4")
    expect(page.locator("#sheet-changes")).to_contain_text("stage skin: dwell")
    page.click("#sheet-save")
    expect(page.locator("#sheet-said")).to_have_text("Saved as revision 5. Revision 4 is kept.")
    assert "revision = 5   # counts up by itself" in kitchen.folder.sheet_text("beet roll")
    pick(page, "#sheet-against", re.compile("^Revision 4$"))  # "Revision 4, as ..." before it
    expect(page.locator("#sheet-changes")).to_contain_text("What differs from revision 4")
    expect(page.locator("#sheet-changes")).to_contain_text("6 to 12 min")
    shoot(page, "sheet-saved")
    page.click("#sheet-take")
    expect(page.locator("#sheet-text")).to_have_value(SHEET)
    expect(page.locator("#sheet-take")).to_be_hidden()
    expect(page.locator("#sheet-back")).to_be_hidden()
    page.get_by_text("Form", exact=True).click()
    dwell = page.locator("[data-field='stage:0:dwell.high']")
    page.click(".stage-card >> nth=1 >> summary")
    expect(dwell).to_have_value("12 min")
    dwell.fill("9 mi")
    expect(page.locator(".field-says:not(:empty)")).to_contain_text("Dwell")
    dwell.fill("9 min")
    dwell.press("Tab")
    expect(page.locator("#sheet-changes")).to_contain_text("6 to 9 min")
    held = []

    def hold(route):
        first = not held and '["sheet-asked.data"]' in (route.request.post_data or "")
        held.append(route) if first else route.continue_()

    page.route(re.compile("_dash-update-component"), hold)
    dwell.fill("8 min")
    with page.expect_request(lambda r: '["sheet-asked.data"]' in (r.post_data or "")):
        dwell.press("Tab")
    page.evaluate("Date.now = ((now) => () => now() + 11000)(Date.now)")
    page.fill("[data-field='stage:0:dwell.low']", "5 min")  # no answer yet: both go in one
    page.locator("[data-field='stage:0:dwell.low']").press("Tab")
    expect(page.locator("#sheet-changes")).to_contain_text("5 to 8 min")
    pick(page, "#sheet-pick", "The defaults")
    expect(page.locator("#sheet-name")).to_have_value("")
    page.click("#sheet-back")
    expect(page.locator("#sheet-text")).to_have_value(
        SHEET.replace("12 min", "8 min").replace("6 min", "5 min")
    )
    expect(page.locator("#sheet-name")).to_have_value("beet roll")


LIST = "Ingredient\tAmount (g)\tPhase\\nbeet stock\t330\twater\\nsalt\t5,500\twater\\n"
PASTE = f"""
() => {{
  const list = new DataTransfer();
  list.setData("text/plain", "{LIST}");
  const event = {{ clipboardData: list, bubbles: true, cancelable: true }};
  document.activeElement.dispatchEvent(new ClipboardEvent("paste", event));
}}
"""


def test_a_list_from_a_spreadsheet_is_corrected_planned_started_and_printed_by_keyboard(
    kitchen, open_page
):
    page = open_page(kitchen.url + "sheets?sheet=pantry")
    press = page.keyboard.press
    cell = "#sheet-grid [row-id='{0}'] [col-id={1}]".format

    def to(selector, key="Tab"):
        """Press a key until what is asked for has the focus."""
        for _ in range(80):
            if page.evaluate("(s) => document.activeElement.matches(s)", selector):
                return
            press(key)
        raise AssertionError(selector)

    expect(page.locator(cell(0, "name"))).to_have_text("butter")
    to("#sheet-grid .ag-header-cell")
    to(cell(0, "name"), "ArrowDown")
    page.evaluate(PASTE)
    expect(page.locator(cell(2, "name"))).to_contain_text("Amount: '5,500 g' has a decimal comma")
    either = page.locator("#sheet-wrongs [data-change]")
    expect(either).to_have_text(["Write 5.5 g", "Write 5500 g"])
    either.last.press("Enter")
    expect(page.locator(cell(2, "amount"))).to_have_text("5500 g")
    to(cell(2, "name"), "ArrowLeft")
    to(cell(2, "amount"), "ArrowRight")
    press("Enter")
    expect(page.locator(cell(2, "amount") + " input")).to_be_focused()
    press("Control+a")
    page.keyboard.type("5.5 g")
    expect(page.locator(cell(2, "of_phase"))).to_have_text("1.6")  # before it is committed
    press("Enter")
    expect(page.locator("#sheet-wrongs")).to_be_empty()
    expect(page.locator("#sheet-plan")).to_contain_text("34.9 %")
    expect(page.locator("#sheet-text")).to_have_value(re.compile('amount = "5.5 g"'))
    to("#sheet-save", "Shift+Tab")
    press("Enter")
    expect(page.locator("#sheet-said")).to_contain_text("Saved as revision 2")
    text = kitchen.folder.sheet_text("pantry")
    assert text.startswith("# what is there\n")
    assert 'mass = "330 g"' in text
    page.dblclick(cell(2, "amount"))
    press("Control+a")
    page.keyboard.type("6 g")
    page.click("#sheet-save")  # straight out of the cell: what was typed is saved
    expect(page.locator("#sheet-said")).to_contain_text("Saved as revision 3")
    assert '"6 g"' in kitchen.folder.sheet_text("pantry")
    to("#sheet-start")
    press("Enter")
    expect(page.locator("#sheet-said")).to_contain_text("The batch has started.")
    kitchen.client.send("run_end")
    to("#sheet-papers a")
    address = page.evaluate("() => document.activeElement.href")
    assert page.request.get(address).body().startswith(b"%PDF")
    more_is_said_of_the_butter_on_a_phone(page, cell(0, "name"))
    page.click("#sheet-save")
    expect(page.locator("#sheet-said")).to_contain_text("Saved as revision 4")
    nobody_leaves_unasked(page, cell(0, "amount"))


def nobody_leaves_unasked(page, amount):
    """Saved, the page is left at once; with a change, it asks first, whichever way it is left."""
    page.dblclick(amount)
    page.keyboard.press("Control+a")
    page.keyboard.type("190 g")
    page.keyboard.press("Enter")
    expect(page.locator("#sheet-text")).to_have_value(re.compile("190 g"))
    asked, url = [], page.url
    page.on("dialog", lambda one: (asked.append(one.type), one.dismiss()))
    page.click("nav a[href='/instruments']")
    with page.expect_event("dialog"):
        page.evaluate("() => void setTimeout(() => location.reload())")
    assert asked == ["confirm", "beforeunload"]
    expect(page.locator("#sheet-text")).to_have_value(re.compile("190 g"))
    page.click("#sheet-save")
    expect(page.locator("#sheet-said")).to_contain_text("Saved as revision 5")
    page.click("nav a[href='/instruments']")
    expect(page.locator("#wiring-now")).to_be_visible()
    assert len(asked) == 2
    page.go_back()
    expect(page.locator("#sheet-text")).to_have_value(re.compile("190 g"))
    page.dblclick(amount)
    page.keyboard.press("Control+a")
    page.keyboard.type("185 g")
    page.keyboard.press("Enter")
    expect(page.locator("#sheet-text")).to_have_value(re.compile("185 g"))
    with page.expect_event("dialog"):
        page.evaluate("() => history.forward()")  # as the browser's buttons do, either of them
    expect(page.locator("#sheet-text")).to_have_value(re.compile("185 g"))
    assert (page.url, len(asked)) == (url, 3)


def more_is_said_of_the_butter_on_a_phone(page, butter):
    page.set_viewport_size({"width": 390, "height": 844})
    page.click(butter)
    page.click("#sheet-entry summary")
    for key, value in (("tolerance", "2"), ("price", "9.80 EUR/kg"), ("density", "0.91 g/ml")):
        page.fill(f"[data-field='ingredient:0:{key}']", value)
    page.click("text=Add an alternative")
    page.fill("[data-field='ingredient.alternative:0:name']", "lard")
    page.click("text=Add a sub-recipe")
    page.fill("[data-field='subrecipe:0:name']", "stock")
    page.click("[data-card='subrecipe.ingredient:0'] summary")
    page.fill("[data-field='subrecipe.ingredient:0:name']", "beets")
    page.fill("[data-field='subrecipe.ingredient:0:amount']", "90")
    page.click("text=Add a vessel")
    page.select_option("[data-field='vessel:0:holds']", "water")
    page.click("text=Add a result")
    page.fill("[data-field='result:0:name']", "bite")
    page.locator("[data-field='result:0:by_taster']").check()
    expect(page.locator("#sheet-wrongs")).to_be_empty()
    expect(page.locator("#sheet-text")).to_have_value(re.compile("by_taster = true"))
    text = page.locator("#sheet-text").input_value()
    read = sheet_from_text(text, "pantry")
    assert (read.ingredient[0].tolerance_percent, read.ingredient[0].density_g_ml) == (2.0, 0.91)
    assert (read.ingredient[0].alternative[0].name, read.result[0].name) == ("lard", "bite")
    assert read.vessel[0].holds == "water"
    assert "# weighed cold" in text
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.click("[data-card='result:0'] >> text=Remove")
    expect(page.locator("#sheet-text")).not_to_have_value(re.compile("bite"))
    page.keyboard.press("Control+z")
    expect(page.locator("#sheet-text")).to_have_value(text)
    page.click("#sheet-redo")
    expect(page.locator("#sheet-text")).not_to_have_value(re.compile("bite"))
    page.click("#sheet-undo")
    expect(page.locator("#sheet-text")).to_have_value(text)
    page.set_viewport_size({"width": 820, "height": 1180})  # a tablet, upright
    page.wait_for_function("() => document.documentElement.scrollWidth <= 820")
    for part in ("#sheet-save", "#sheet-entry", "#sheet-plan", "#sheet-papers"):
        expect(page.locator(part)).to_be_visible()
    assert small_targets(page) == []
    page.set_viewport_size({"width": 1280, "height": 800})


def test_the_probe_that_is_warmed_gets_the_role(kitchen, probes, open_page):
    page = open_page(kitchen.url + "instruments")
    expect(page.locator("#wiring-due")).to_contain_text("Check overdue: Fat")
    expect(page.locator("#wiring-now .look-good")).to_have_count(2)
    page.click("#which-listen")
    expect(page.locator("#which-says")).to_have_text("Listening: nothing moves yet.")
    expect(page.locator("#which-take")).to_be_disabled()
    probes.temps_c[1] = 27.5
    expect(page.locator("#which-says")).to_contain_text("Save it as Fat?")
    page.click("#which-take")
    expect(page.locator("#which-says")).to_contain_text("First say what it is")
    pick(page, "#which-type", "Don't know")
    page.click("#which-take")
    expect(page.locator("#which-says")).to_contain_text("t2 is Fat now")
    bench = bench_from_text(kitchen.folder.bench_file.read_text(), "bench.toml")
    assert [c.sensor.assumed for c in bench.channel if c.id == "t2"] == [True]
    assert {c.id: c.role for c in bench.channel} == {"t1": "water", "t2": "fat"}
    expect(page.locator("#wiring-now tr:has-text('t2')")).to_contain_text("Fat")


def test_an_ice_point_is_checked_step_by_step(kitchen, open_page, in_reach, shoot):
    page = open_page(kitchen.url + "instruments")
    expect(page.locator("#wiring-now .look-good")).to_have_count(2)
    pick(page, "#check-channel", "")
    expect(page.locator("#check-steps")).to_contain_text("crushed ice")
    in_reach(page, "instruments-wired")
    page.click("#check-begin")
    expect(page.locator("#check-says")).to_contain_text("Save it in the bench file?")
    shoot(page, "check-found")
    page.click("#check-write")
    expect(page.locator("#check-says")).to_contain_text("Written into bench.toml")
    bench = bench_from_text(kitchen.folder.bench_file.read_text(), "bench.toml")
    found = {c.id: c.correction for c in bench.channel}["t1"]
    assert found.offset_k == pytest.approx(-0.36, abs=0.01)
    assert kitchen.folder.bench_file.read_text().startswith("# my table\n")


def test_a_run_gets_a_note_and_an_outcome_and_is_handed_on(kitchen, open_page, shoot):
    run_id = kitchen.client.send("start", sheet="beet roll")["run"]
    kitchen.client.send("stage", stage="skin")
    kitchen.client.send("piece_in", piece=3)
    kitchen.client.send("run_end")
    page = open_page(f"{kitchen.url}runs/{run_id}")
    expect(page.locator("#run-exact")).not_to_be_empty()
    page.click("text=Add a note")
    page.fill("#late-note", "<i>soft</i> in the middle")
    page.click("#late-save")
    expect(page.locator("#run-tables")).to_contain_text("<i>soft</i> in the middle")
    page.click("text=Make it again")
    expect(page.locator("#sheet-from")).to_contain_text("1 run")
    expect(page.locator("#sheet-text")).to_have_value(re.compile(f"^# Targets from {run_id}"))
    page.go_back()
    expect(page.locator("#run-exact")).not_to_be_empty()
    page.get_by_label("rejected").check()
    page.get_by_label("too soft").check()
    page.fill("#out-new", "fizzy")
    page.click("#out-add")
    pick(page, "#out-piece-defect", "fizzy")
    page.click(".piece-taps label:has-text('3')")
    page.get_by_label("Cook loss, %").fill("12.4")
    pick(page, "#out-because", "The fat was poured too cool")
    page.click("#out-save")
    expect(page.locator("#run-came")).to_contain_text("rejected: too soft, fizzy")
    for said in ("12.4 %", "fizzy", "the fat was poured too cool"):
        expect(page.locator("#run-tables")).to_contain_text(said)
    page.click("text=Add a photo")
    page.set_input_files("#photo-file", SHOT)
    page.select_option("#photo-piece", "3")
    page.click("#photo-save")
    expect(page.locator(".photos li")).to_have_text(["Piece 3Remove"])
    shoot(page, "run-own")
    page.click(".photos button")
    expect(page.locator(".photos button")).to_contain_text("Remove for good?")
    page.click(".photos button")
    expect(page.locator(".photos")).to_have_count(0)
    with page.expect_download() as coming:
        page.click("text=Table, CSV")
    with zipfile.ZipFile(coming.value.path()) as packed:
        assert f"{run_id}/readings.csv" in packed.namelist()
    with page.expect_popup() as opening:
        page.click(".hand-on a:has-text('Report') >> nth=0")
    report = opening.value
    expect(report.locator("body")).to_contain_text("<i>soft</i> in the middle")
    for said in ("too soft", "Cook loss 12.4 %", "the fat was poured too cool"):
        expect(report.locator("body")).to_contain_text(said)


def test_a_first_start_leads_to_the_virtual_bench_or_to_the_ports(tmp_path, open_page, in_reach):
    empty = Kitchen(tmp_path / "data", None)
    try:
        page = open_page(empty.url + "instruments")
        expect(page.locator("#begin-demo")).to_contain_text("bainlog demo")
        expect(page.locator("#begin-listen")).to_have_text("Listen")
        expect(page.locator("#wiring-acts")).not_to_be_visible()
        in_reach(page, "first-start")
    finally:
        empty.stop()


class Jar(Probes):
    """A thermometer whose lines nobody knows."""

    line = "#1 <PV {1:.2f}> SP 60.0 |\r\n"


class Jug(Probes):
    """Another one."""

    line = "jug={1:.2f};set=60.0;ok\r\n"


def test_lines_that_nobody_knows_become_a_live_trace_in_less_than_ten_clicks(
    tmp_path, open_page, monkeypatch, eventually
):
    monkeypatch.setattr("logger.ports.finding.listen.listed_ports", list)
    jar, jug, empty = Jar(), Jug(), Kitchen(tmp_path / "data", None)
    try:
        page = open_page(empty.url + "instruments")
        page.evaluate(CLICKS)
        page.fill("#begin-port", jar.port)
        page.click("#begin-listen")
        page.locator("#teach .teach-line label:has-text('21.00')").click()
        expect(page.locator("#teach-says")).to_have_text("The display shows 21.00.")
        page.click("#teach label:has-text('°C')")
        page.click("#teach-save")
        expect(page.locator("#teach-says")).to_contain_text("Saved as my instrument")
        pick(page, "#begin-type", "Don't know")
        page.click("#begin-adopt")
        expect(page.locator("#wiring-now .look-good")).to_have_count(1)
        page.click("nav a[href='/']")
        expect(page.locator("#do-start")).to_be_visible()
        page.keyboard.press("s")
        expect(page.locator("#sheet-choice")).to_be_focused()
        page.select_option("#sheet-choice", "beet roll")
        page.click("#start-go")
        page.wait_for_function(LIVE)
        assert page.evaluate("window.clicks") < 10
        eventually(lambda: empty.client.state().channels[0].value == 21.0)
        assert len(list(empty.folder.path.glob("my-instrument.shapes.toml"))) == 1
        empty.client.send("run_end")
        page.click("nav a[href='/instruments']")
        page.fill("#begin-port", jug.port)
        page.click("#begin-listen")
        page.locator("#teach .teach-line label:has-text('21.00')").click()
        page.click("#teach label:has-text('°C')")
        page.click("#teach-save")
        expect(page.locator("#teach-says")).to_contain_text("Saved as my instrument 2")
        pick(page, "#begin-type", "Don't know")
        page.click("#begin-adopt")
        expect(page.locator("#wiring-now .look-good")).to_have_count(2)
        page.close()  # nobody asks while the screen closes
    finally:
        empty.stop()
        jar.stop()
        jug.stop()

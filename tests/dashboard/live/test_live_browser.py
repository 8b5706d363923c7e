"""The live page in a real browser, on the real recorder and the virtual bench.

Every request that leaves this machine is aborted and fails the test; so does every error in the
browser's console. With ``BAINLOG_PICTURES`` set, pictures go to ``.artifacts/``.
"""

import re
from pathlib import Path

import pytest

from tests.dashboard.pages import (
    CUT,
    SCROLLS,
    Opener,
    choose,
    expect,
    open_end,
    show_in,
    small_targets,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SHOT = Path(__file__).resolve().parents[3] / "fixtures" / "pictures" / "at_the_bench.png"
TRACES = "window.bainlogStrip.traces"
RANGE = "window.bainlogStrip.range.map(String)"
NEWEST = """
(than) => {
  const tails = window.bainlogStrip.traces.filter((t) => String(t.meta).startsWith("tail:"));
  const newest = Math.max(0, ...tails.map((t) => t.x[t.x.length - 1] || 0));
  return than === null ? newest : newest > than;
}
"""


HIDDEN = """
(hidden) => {
  Object.defineProperty(document, "hidden", { value: hidden, configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}
"""


def recording(page) -> None:
    """Make sure that a batch is being recorded, as a person would."""
    expect(page.locator("#bench-page")).to_have_attribute(
        "data-state", re.compile("recording|idle")
    )
    if page.locator("#do-start").count():
        page.click("#do-start")
        page.click("#start-go")
    expect(page.locator("#bench-page")).to_have_attribute("data-state", "recording")


def newest_ms(page) -> int:
    """Place on the axis of the newest sample drawn [ms of run time]."""
    return int(page.evaluate(NEWEST, None))


def await_newer(page, than_ms: int = 0) -> None:
    """Wait until a sample later than that is drawn."""
    page.wait_for_function(NEWEST, arg=than_ms)


@pytest.fixture(scope="module")
def kept(demo, browser):
    """One page on the demo for most tests of this file, and what opened it."""
    opener = Opener(browser)
    page = opener(demo.url)
    recording(page)
    yield opener, page
    opener.close()


@pytest.fixture
def bench(kept):
    opener, page = kept
    recording(page)
    page.evaluate("document.getElementById('toast').replaceChildren()")
    yield page
    if page.locator("dialog[open]").count():
        page.keyboard.press("Escape")
    page.evaluate("window.dash_clientside.set_props('choices', { data: { theme: 'dark' } })")
    assert opener.strayed == []
    assert opener.complaints == []


def test_the_page_opens_on_a_live_batch(bench):
    expect(bench.locator(".say")).not_to_be_empty()
    expect(bench.locator(".ticket[aria-current=step]")).to_have_count(1)
    expect(bench.locator("#now-sensors")).to_contain_text("sensors live")
    expect(bench.locator(".health tbody tr").first).not_to_be_visible()
    bench.click("#sensors-fold > summary")
    expect(bench.locator(".health tbody tr").first).to_be_visible()
    bench.click("#sensors-fold > summary")
    expect(bench.locator("#do-mark")).to_be_visible()


FAT_PIXELS = """
() => {
  const fat = window.bainlogStrip.traces.find((t) => t.meta === "tail:fat");
  const pen = document.getElementById("strip-canvas").getContext("2d");
  const wanted = [1, 3, 5].map((at) => parseInt(fat.line.color.slice(at, at + 2), 16));
  const { data } = pen.getImageData(0, 0, pen.canvas.width, pen.canvas.height);
  let found = 0;
  for (let at = 0; at < data.length; at += 4) {
    found += wanted.every((part, k) => Math.abs(data[at + k] - part) < 8) && data[at + 3] > 250;
  }
  return found > 20;
}
"""
"""Whether the line of the fat is painted in its colour."""
AT_NEWEST = """
() => {
  const { traces, layout, range } = window.bainlogStrip;
  const fat = traces.find((t) => t.meta === "tail:fat");
  const place = document.getElementById("strip-canvas").getBoundingClientRect();
  const part = (fat.x[fat.x.length - 1] - range[0]) / (range[1] - range[0]);
  const { l, r, t, b } = layout.margin;
  const [low, high] = layout.yaxis.range;
  const [foot, head] = layout.yaxis.domain;
  const up = foot + ((fat.y[fat.y.length - 1] - low) / (high - low)) * (head - foot);
  return [place.x + l + part * (place.width - l - r),
          place.bottom - b - up * (place.height - t - b)];
}
"""
"""Where the newest sample of the fat is painted [px]."""


def test_traces_grow_by_themselves_and_a_point_is_told(bench):
    await_newer(bench)
    await_newer(bench, newest_ms(bench) + 2000)
    bench.wait_for_function(FAT_PIXELS)
    bench.mouse.move(*bench.evaluate(AT_NEWEST))
    bench.wait_for_function(
        r"() => /^Fat \d+(\.\d+)? at \d+(:\d\d)+$/.test(window.bainlogStrip.told)"
    )


def test_the_age_of_the_last_sample_is_counted_and_young(bench):
    bench.wait_for_function(
        "() => [...document.querySelectorAll('.health tbody tr')].some("
        "(row) => row.dataset.old === '0' && /now|s ago/.test(row.textContent))"
    )


def test_a_mark_is_confirmed_and_can_be_taken_back(bench):
    bench.click("#do-mark")
    expect(bench.locator("#toast")).to_contain_text("Marked.")
    bench.click("#toast button")
    expect(bench.locator("#toast")).to_contain_text("Taken back: mark, ")


def test_the_table_of_the_traces_is_drawn_once_it_is_unfolded(bench):
    """A table that nobody sees was drawn anew every few seconds, and looked at in every beat."""
    rows = bench.locator("#now-table table").last.locator("tbody tr")
    await_newer(bench)
    assert rows.count() == 0
    bench.locator("#table-fold > summary").focus()
    bench.keyboard.press("Enter")
    expect(rows).not_to_have_count(0)
    expect(bench.locator("#now-table .graph-words")).to_contain_text("lowest")


def test_a_double_tap_of_a_wet_finger_counts_once(bench):
    bench.evaluate(
        """() => {
          window.sent = 0;
          const send = window.dash_clientside.set_props;
          window.dash_clientside.set_props = (id, props) => {
            window.sent += id === "command" ? 1 : 0;
            return send(id, props);
          };
        }"""
    )
    bench.dblclick("#do-mark")
    expect(bench.locator("#toast")).to_contain_text("Marked.")
    assert bench.evaluate("window.sent") == 1


def test_a_note_with_markup_is_shown_as_text(bench):
    bench.evaluate("window.hurt = false")
    bench.click("#do-note")
    bench.fill(
        "#note-text", "<img src=x onerror='window.hurt=true'><script>window.hurt=true</script>"
    )
    bench.click("#note-go")
    expect(bench.locator("#toast")).to_contain_text("Note saved.")
    bench.wait_for_function(
        f"() => {TRACES}.some("
        "(t) => t.meta === 'events' && t.text.some((x) => x.includes('&lt;img')))"
    )
    assert bench.evaluate("window.hurt") is False


def test_letter_keys_work_and_are_dead_in_a_field(bench):
    bench.keyboard.press("t")
    expect(bench.locator("#note-dialog")).to_be_visible()
    bench.keyboard.type("mum")
    expect(bench.locator("#note-text")).to_have_value("mum")
    bench.keyboard.press("Escape")
    expect(bench.locator("#note-dialog")).not_to_be_visible()
    expect(bench.locator("#do-mark")).to_be_enabled()
    bench.keyboard.press("m")
    expect(bench.locator("#toast")).to_contain_text("Marked.")


def test_a_letter_key_counts_while_a_closed_dialog_still_has_the_focus(bench):
    """A browser gives the focus back with the next picture: a key before that was lost."""
    began = bench.evaluate("performance.now()")  # a second tap so soon would be the same finger's
    bench.wait_for_function("(began) => performance.now() > began + 750", arg=began)
    bench.evaluate(
        """() => document.getElementById("note-text").dispatchEvent(
          new KeyboardEvent("keydown", {key: "m", bubbles: true}))"""
    )
    expect(bench.locator("#toast")).to_contain_text("Marked.")


def test_letter_keys_can_be_switched_off(bench):
    bench.click("#settings > summary")
    bench.click("[data-choice=keys]")
    bench.keyboard.press("Escape")
    expect(bench.locator("[data-choice=keys]")).not_to_be_visible()
    expect(bench.locator("[data-choice=keys]")).to_have_attribute("aria-pressed", "false")
    bench.keyboard.press("t")
    expect(bench.locator("#note-dialog")).not_to_be_visible()


def test_fahrenheit_and_ounces_reach_sensors_and_traces(bench):
    expect(bench.locator(".health")).to_contain_text("°C")
    choose(bench, "temp")
    expect(bench.locator(".health")).to_contain_text("°F")
    choose(bench, "mass")
    expect(bench.locator(".health")).to_contain_text("oz")
    bench.reload()
    expect(bench.locator(".health")).to_contain_text("°F")


def test_looking_back_keeps_the_view_until_back_to_live(bench):
    await_newer(bench)
    box = bench.locator("#strip-canvas").bounding_box()
    middle = box["y"] + box["height"] / 2
    bench.mouse.move(box["x"] + 300, middle)
    bench.mouse.down()
    bench.mouse.move(box["x"] + 460, middle, steps=5)
    bench.mouse.up()
    expect(bench.locator("#back-to-live")).to_be_visible()
    seen = bench.evaluate(RANGE)
    before = newest_ms(bench)
    await_newer(bench, before + 4000)
    still = bench.evaluate(RANGE)
    assert still == seen
    bench.click("#back-to-live")
    expect(bench.locator("#back-to-live")).not_to_be_visible()
    bench.wait_for_function(
        f"(seen) => {RANGE}[0] !== seen",
        arg=seen[0],
    )


def test_a_page_that_was_hidden_asks_nothing_and_has_no_hole(bench):
    """The cursor makes up for what was not asked."""
    await_newer(bench)
    asked = []
    bench.evaluate(HIDDEN, True)
    bench.on("request", lambda request: asked.append(request.url))
    began, before = bench.evaluate("performance.now()"), newest_ms(bench)
    bench.wait_for_function("(began) => performance.now() > began + 4000", arg=began)
    assert len(asked) <= 1  # one may have been on its way
    bench.evaluate(HIDDEN, False)
    await_newer(bench, before + 5000)
    widest_ms = bench.evaluate(
        f"""() => Math.max(...{TRACES}
        .filter((t) => ["tail:fat", "history:fat"].includes(t.meta)).map((t) => {{
          let widest = 0;
          for (let k = 1; k < t.x.length; k += 1) widest = Math.max(widest, t.x[k] - t.x[k - 1]);
          return widest; }}))"""
    )
    assert widest_ms < 5_000  # of run time, while at least 6 s of it went by unseen


@pytest.fixture
def resting(kept):
    """The kept page asks nothing meanwhile."""
    kept[1].evaluate(HIDDEN, True)
    yield
    kept[1].evaluate(HIDDEN, False)


def test_three_tabs_all_stay_live(demo, bench, open_page):
    pages = [bench, *(open_page(demo.url) for _ in range(2))]
    for page in pages:
        recording(page)
    for page in pages:
        before = newest_ms(page)
        await_newer(page, before + 1000)


@pytest.mark.usefixtures("resting")
def test_a_server_that_restarts_is_found_again_without_reload(demo, open_page, open_screen):
    screen = open_screen(demo.folder)
    url, port = screen.url, screen.port
    page = open_page(url)
    open_page.may_fail = True
    recording(page)
    await_newer(page)
    screen.stop()
    expect(page.locator("#cut-line")).to_be_visible()
    expect(page.locator("#cut-line")).to_contain_text("These values are old")
    before = newest_ms(page)
    screen = open_screen(demo.folder, port)
    assert screen.port == port
    expect(page.locator("#cut-line")).not_to_be_visible()
    await_newer(page, before + 1000)


LATE = """
() => {
  window.claims = [];
  window.plain = window.fetch;
  window.fetch = async (...about) => {
    const made = await window.plain(...about);
    await new Promise((done) => setTimeout(done, 3000));
    return made;
  };
  const line = document.getElementById("cut-line");
  new MutationObserver(() => window.claims.push(line.dataset.cut)).observe(line, {
    attributes: true, attributeFilter: ["data-cut"] });
}
"""


def test_answers_that_come_late_are_not_called_a_lost_connection(bench):
    await_newer(bench)
    bench.evaluate(LATE)
    expect(bench.locator("#cut-line")).to_contain_text("new values come late")
    bench.evaluate("window.fetch = window.plain")
    expect(bench.locator("#cut-line")).not_to_be_visible()
    assert "1" not in bench.evaluate("window.claims")


SIZES = ((1280, 800), (1024, 768), (820, 1180), (800, 1280), (768, 1024), (390, 844))
IN_SIGHT = """
() => [".say", ".status", ".controls"].every((part) => {
  const box = document.querySelector(part).getBoundingClientRect();
  return box.top >= 0 && box.bottom <= window.innerHeight;
})
"""


def test_nothing_is_out_of_reach_for_anybody(bench, violations, shoot):
    """axe: WCAG 2.2, levels A and AA; targets of 44 px and more; one scroll bar, nothing cut."""
    for place, (width, height) in enumerate(SIZES):
        theme = ("dark", "light")[place % 2]
        show_in(bench, theme)
        bench.set_viewport_size({"width": width, "height": height})
        bench.wait_for_function(
            "(width) => document.documentElement.scrollWidth <= width", arg=width
        )
        shoot(bench, f"bench-{theme}-{width}")
        assert violations(bench) == [], width
        assert small_targets(bench) == [], width
        assert bench.evaluate(SCROLLS) == [], width
        assert bench.evaluate(CUT) == [], width
        assert bench.locator(".key.main:visible").count() <= 1
        if width >= 800:
            bench.wait_for_function(IN_SIGHT)
    bench.set_viewport_size({"width": 1280, "height": 800})


def test_ending_a_batch_puts_it_into_the_list_and_it_opens(bench, violations, shoot):
    page = bench
    open_end(page)
    page.set_input_files("#end-fields #photo-file", SHOT)
    shoot(page, "end-dialog")
    page.click("#end-go")
    expect(page.locator("#toast")).to_contain_text("finished and saved")
    expect(page.locator("#bench-page")).to_have_attribute("data-state", "idle")
    page.click("#toast a")
    expect(page.locator("#run-exact")).not_to_be_empty()
    page.wait_for_function(
        "() => (document.querySelector('#run-graph .js-plotly-plot')?.data || []).length > 2"
    )
    expect(page.locator(".photos li")).to_have_count(1)  # chosen, not saved by a press of its own
    shoot(page, "run-dark")
    assert violations(page) == []
    page.click("text=Runs")
    expect(page.locator(".run-card")).not_to_have_count(0)
    page.click("a.name")
    recording(page)

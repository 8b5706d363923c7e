"""The graph of a run in a real browser: zoom, lines hidden and shown, a screen that is turned."""

from typing import Any

import pytest

from dashboard.runs.contents import EXACT_SAYS, SAMPLED_SAYS
from tests.dashboard.pages import Opener, choose, expect

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PLOT = 'document.querySelector("#run-graph .js-plotly-plot")'
DRAWN = f"() => {PLOT}?._fullData?.length > 2"
LINES = f"() => {PLOT}._fullData.map((line) => line.visible === true)"
WIDTH = f"() => {PLOT}._fullLayout.xaxis.range.map((at) => {PLOT}._fullLayout.xaxis.r2c(at))"
ZOOM = f"""
([low, high]) => window.Plotly.relayout({PLOT},
  {{"xaxis.range[0]": 864000000 + 1000 * low, "xaxis.range[1]": 864000000 + 1000 * high}})
"""
ZOOMED = f"""
([low, high]) => {{
  const line = {PLOT}._fullData[0].x.map((at) => (at - 864000000) / 1000);
  const ends = ({WIDTH})().map((at) => (at - 864000000) / 1000);
  return line[0] > low - 10 && line[line.length - 1] < high + 10
    && ends[0] === low && ends[1] === high;
}}
"""
"""The graph shows a window, and its lines reach hardly further."""
BACK = f"(whole) => ({WIDTH})().every((end, k) => Math.abs(end - whole[k]) < 60000)"
"""The graph shows the whole run again."""
NAMES = f"() => {PLOT}.layout.annotations.map((note) => note.text)"


@pytest.fixture(scope="module")
def kept(browser, shelf_screen, shelf):
    """One page of a run for the tests of this file, and what opened it."""
    opener = Opener(browser)
    page = opener(f"{shelf_screen.url}runs/{shelf.bad}")
    page.wait_for_function(DRAWN)
    yield opener, page, page.evaluate(WIDTH)
    opener.close()


@pytest.fixture
def run_page(kept):
    opener, page, whole = kept
    yield page
    page.unroute_all()
    page.evaluate(ZOOM, [(end - 864000000) / 1000 for end in whole])
    page.wait_for_function(BACK, arg=whole)
    assert opener.strayed == []
    assert opener.complaints == []


def test_a_zoom_is_drawn_though_the_page_takes_another_size_meanwhile(run_page):
    """The answer to a zoom was thrown away when the graph told of its new size before it came."""
    expect(run_page.locator("#run-exact")).to_have_text(SAMPLED_SAYS)
    with run_page.expect_request("**/window?*"):
        run_page.evaluate(ZOOM, [60, 120])
    run_page.evaluate(f"() => window.Plotly.relayout({PLOT}, {{autosize: true}})")
    run_page.wait_for_function(ZOOMED, arg=[60, 120])
    expect(run_page.locator("#run-exact")).to_have_text(EXACT_SAYS)


def test_a_drag_zooms_a_double_click_and_a_button_bring_the_whole_run_back(run_page):
    whole = run_page.evaluate(WIDTH)
    area = run_page.locator("#run-graph .nsewdrag").first
    box = area.bounding_box()
    for way in ("double click", "button"):
        with run_page.expect_response("**/window?from=*"):
            run_page.mouse.move(box["x"] + 200, box["y"] + 100)
            run_page.mouse.down()
            run_page.mouse.move(box["x"] + 300, box["y"] + 105, steps=5)
            run_page.mouse.up()
        run_page.wait_for_function(f"(w) => ({WIDTH})()[1] - ({WIDTH})()[0] < 0.3 * (w[1] - w[0])",
                                   arg=whole)  # fmt: skip
        run_page.locator("#run-whole").click() if way == "button" else area.dblclick()
        run_page.wait_for_function(BACK, arg=whole)


def test_of_two_zooms_the_later_counts(run_page):
    held: list[Any] = []
    run_page.route("**/window?from=864060000*", lambda asked: held.append(asked))
    with run_page.expect_request("**/window?from=864060000*"):
        run_page.evaluate(ZOOM, [60, 120])
    run_page.evaluate(ZOOM, [200, 300])
    run_page.wait_for_function(ZOOMED, arg=[200, 300])
    expect(run_page.locator("#run-exact")).to_have_text(EXACT_SAYS)
    assert len(held) == 1


def test_a_zoom_that_is_not_answered_says_so(run_page, kept):
    kept[0].may_fail = True
    run_page.route("**/window?*", lambda asked: asked.fulfill(status=404, body="No such run."))
    run_page.evaluate(ZOOM, [60, 120])
    expect(run_page.locator("#run-exact")).to_have_text("No such run.")
    run_page.unroute("**/window?*")
    run_page.route("**/window?*", lambda asked: asked.abort())
    run_page.evaluate(ZOOM, [60, 130])
    expect(run_page.locator("#run-exact")).to_contain_text("does not answer")
    kept[0].may_fail = False


def test_a_line_is_hidden_and_shown_by_its_box(run_page):
    boxes = run_page.locator("#run-graph-names input")
    lines = run_page.evaluate(LINES)
    assert boxes.count() == len(lines) > 2
    assert [box.is_checked() for box in boxes.all()] == lines
    boxes.first.focus()
    for low in (60, 70):
        run_page.evaluate(ZOOM, [low, low + 60])
        run_page.wait_for_function(ZOOMED, arg=[low, low + 60])
    run_page.keyboard.press("Space")
    run_page.wait_for_function(f"() => !({LINES})()[0]")
    run_page.evaluate(ZOOM, [60, 120])
    run_page.wait_for_function(f"() => Math.abs({PLOT}._fullData[1].x[0] - 864059000) < 2000")
    assert run_page.evaluate(LINES) == [False, *lines[1:]]
    run_page.keyboard.press("Space")
    run_page.wait_for_function(f"() => ({LINES})()[0]")
    run_page.wait_for_function(ZOOMED, arg=[60, 120])


def test_a_line_hidden_is_drawn_again_with_a_new_figure_and_its_box_says_so(run_page):
    box = run_page.locator("#run-graph-names input").first
    run_page.locator("#run-graph-names label").first.click()
    run_page.wait_for_function(f"() => !({LINES})()[0]")
    choose(run_page, "temp")
    expect(box).to_be_checked()
    run_page.wait_for_function(f"() => ({LINES})()[0]")
    choose(run_page, "temp")


@pytest.mark.parametrize("name", ["run", "why"])
def test_a_screen_that_is_turned_has_other_room_for_the_names_of_stages(
    shelf_screen, shelf, open_page, name
):
    page = open_page(f"{shelf_screen.url}{'runs' if name == 'run' else name}/{shelf.bad}")
    drawn, names = (part.replace("run-graph", f"{name}-graph") for part in (DRAWN, NAMES))
    page.wait_for_function(drawn)
    wide = page.evaluate(names)
    page.set_viewport_size({"width": 390, "height": 844})
    page.wait_for_function(f"(wide) => ({names})().join() !== wide.join()", arg=wide)
    page.set_viewport_size({"width": 1280, "height": 800})
    page.wait_for_function(f"(wide) => ({names})().join() === wide.join()", arg=wide)


def test_a_window_names_the_stages_in_it(run_page, shelf_screen, shelf):
    whole = run_page.evaluate(NAMES)
    run_page.evaluate(ZOOM, [60, 120])
    run_page.wait_for_function(ZOOMED, arg=[60, 120])
    closer = run_page.evaluate(NAMES)
    assert 0 < len(closer) < len(whole)
    assert "…" not in closer[0]


def test_times_on_the_axis_are_written_as_everywhere(run_page):
    """Minutes and seconds, hours only from the first hour on; in a closer window as well."""
    for window in (None, [700, 760]):
        run_page.evaluate(ZOOM, window) if window else None
        run_page.wait_for_function(
            r"""(closer) => {
              const ticks = [...document.querySelectorAll("#run-graph .xtick text")];
              const texts = ticks.map((tick) => tick.textContent);
              return texts.includes(closer ? "12:00" : "10:00")
                && texts.every((text) => /^([1-9]\d*:)?\d?\d:\d\d$/.test(text));
            }""",
            arg=window is not None,
        )

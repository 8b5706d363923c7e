"""Every page but the live one, in dark and light, on a tablet, upright tablets and a phone.

axe finds nothing (WCAG 2.2, levels A and AA), nothing is wider than the screen, nothing scrolls
but the page itself; with ``BAINLOG_PICTURES`` set, a picture of each is kept in ``.artifacts``.
`open_page` fails on a request to another machine and on any complaint in the console.
"""

import re

import pytest

from tests.dashboard.pages import CUT, SCROLLS, choose, expect

pytestmark = [pytest.mark.browser, pytest.mark.slow]

DRAWN = """
() => [...document.querySelectorAll(".dash-graph")].every((graph) => {
  const plot = graph.querySelector(".js-plotly-plot");
  const drawn = plot && plot._fullLayout && (plot.data.length || plot.layout.annotations?.length);
  return drawn && Math.abs(plot._fullLayout.width - graph.clientWidth) < 3;
}) && !document.querySelector(".plain-page [data-dash-is-loading=true]")
  && document.documentElement.scrollWidth <= window.innerWidth
"""
"""All graphs are drawn as wide as they have room, and nothing is wider than the screen."""

FOREIGN = re.compile(r"\d\.\d+ min\b|(?<![\w–/.:])-\d|\bdeg[CF]\b|\d{3,} s ago")
"""Decimal minutes, a hyphen for a minus, units of the code, long ages in seconds."""
DEFAULTS = """
() => [...document.querySelectorAll(".js-plotly-plot")]
  .flatMap((plot) => plot._fullData)
  .flatMap((trace) => [trace.line?.color, trace.marker?.color])
  .filter((colour) => /^#(636efa|ef553b|00cc96|ab63fa|ffa15a|1f77b4|ff7f0e|2ca02c|d62728|444)$/i
    .test(colour))
"""
"""Colours of lines and dots that nobody chose."""

SIZES = ((1280, 800), (1024, 800), (800, 1280), (768, 1024), (390, 844))


def drawn(page):
    """Wait until all is drawn; looked at ten times a second, not in each frame of the browser."""
    page.wait_for_function(DRAWN, polling=100)


@pytest.mark.parametrize(
    "name",
    ["start", "runs", "run", "good-run", "why", "compare", "sheets", "instruments", "no-such-page"],
)
def test_a_page_is_in_reach_for_anybody(shelf_screen, shelf, open_page, violations, shoot, name):
    paths = {
        "start": "",
        "run": f"runs/{shelf.bad}",
        "good-run": f"runs/{shelf.good[0]}",
        "why": f"why/{shelf.bad}",
        "compare": f"compare?runs={','.join([*shelf.good[:2], shelf.bad])}",
    }
    page = open_page(shelf_screen.url + paths.get(name, name))
    page.locator("h1, .say").first.wait_for()
    page.locator(".stage-of").first.wait_for() if name.endswith("run") else None
    page.get_by_text("Add a photo").click() if name == "run" else None
    page.wait_for_load_state("networkidle") if name != "start" else None
    drawn(page)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        drawn(page)
        assert page.evaluate(SCROLLS) == [], width
        assert page.evaluate(CUT) == [], width
        assert page.locator(".key.main:visible").count() <= 1, width
        if name in LOOKS:
            LOOKS[name](page, width)
        if width in (1280, 390):
            shoot(page, f"{name}-dark-{width}")
        if width == 1280:
            assert violations(page) == []
            assert FOREIGN.findall(page.locator("body").inner_text()) == []
            assert page.evaluate(DEFAULTS) == []
    page.keyboard.press("?")
    page.locator("#help-dialog[open] .more-of").last.click()
    drawn(page)
    assert page.evaluate(CUT) == []
    assert violations(page) == [] if name == "run" else True
    page.keyboard.press("Escape")
    page.wait_for_function("() => document.activeElement.id === 'help-open'", polling=100)
    choose(page, "theme")
    page.wait_for_function("() => document.documentElement.dataset.theme === 'light'", polling=100)
    drawn(page)
    shoot(page, f"{name}-light-390")
    assert violations(page) == []


def height_of(page):
    return page.evaluate("document.documentElement.scrollHeight")


def run_is_short(page, width):
    """A run's page: one accent button; short where nothing was missed, else the worst in sight."""
    assert page.locator(".key.main:visible").count() <= 1
    bad = page.locator(".fl.bad")
    open_stages = page.locator(".stage-of[open]")
    red = page.locator(".stage-of:has(.stage-marks .look-stop)")
    assert open_stages.count() == red.count()
    if bad.count():
        if width == 1280:
            box = bad.first.bounding_box()
            assert box["y"] + box["height"] < 800
            assert height_of(page) < 2500
    elif width in (1280, 800):
        assert page.locator(".photos li").count() == 3
        assert height_of(page) < {1280: 1500, 800: 2500}[width]


def why_says_the_remedy_first(page, width):
    """The remedy and then the traces are in sight at once; one accent button."""
    assert page.locator(".key.main:visible").count() == 1
    if width == 1280:
        for part, below in ((".remedy", 300), ("#why-graph", 640)):
            box = page.locator(part).bounding_box()
            assert box["y"] + box["height"] < below, part
    elif width == 390:
        for unit, other in (("°F", "°C"), ("°C", "°F")):
            choose(page, "temp")
            for part in ("#why-grounds", "#why-graph"):
                expect(page.locator(part)).to_contain_text(unit)
            assert other not in page.locator(".why-page").inner_text()


def runs_are_dense(page, width):
    """Forty pixels a line on a wide screen; a chip chooses, and all come back."""
    lines = page.locator(".run-card")
    if width != 1280:
        return
    assert lines.first.bounding_box()["height"] <= 48
    every = lines.count()
    page.get_by_text("Rejected 1").click()
    page.wait_for_function("() => document.querySelectorAll('.run-card').length === 1")
    page.get_by_text(f"All {every}").click()
    page.wait_for_function(f"() => document.querySelectorAll('.run-card').length === {every}")


def compared_runs_are_grouped(page, width):
    """What splits them is chosen, a group is left out by a tap, and a run is added."""
    chips = page.locator(".group-chip")
    if width != 1280:
        return
    page.locator("#tog-split").get_by_text("Before and after a day").click()
    expect(chips.first).to_contain_text(re.compile(r"2 runs: from \d+ \w+ 2026 on"))
    expect(chips.last).to_contain_text("1 run: before")
    page.locator("#tog-day").press("ArrowDown")
    page.locator("#tog-day").press("Enter")
    expect(page.locator("#tog-day")).to_have_value(re.compile(r"^\d+ Nov 2026$"))
    for by, groups in (("Lot", 0), ("Revision", 0), ("Outcome", 2)):
        page.locator("#tog-split").get_by_text(by).click()
        expect(chips).to_have_count(groups)
    expect(chips.first).to_contain_text("1 run: rejected")
    chips.first.click()
    expect(page.locator(".which-runs li")).to_have_count(2)
    page.get_by_role("button", name="Add a run").click()
    page.locator("[role=option]:visible", has_text="rejected").click()
    expect(chips).to_have_count(2)
    page.locator("#tog-runs").blur()
    drawn(page)


LOOKS = {
    "compare": compared_runs_are_grouped,
    "runs": runs_are_dense,
    "run": run_is_short,
    "good-run": run_is_short,
    "why": why_says_the_remedy_first,
}
"""What else is asked of a page at each width."""

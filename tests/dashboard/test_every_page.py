"""Every page but the live one, in dark and light, on a tablet and a phone.

axe finds nothing (WCAG 2.2, levels A and AA), nothing is wider than the screen, and a picture of
each lies in ``.artifacts`` to be looked at. `open_page` fails on a request to another machine and
on any complaint in the console.
"""

import pytest

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


@pytest.mark.parametrize(
    "name", ["start", "runs", "run", "why", "compare", "sheets", "instruments", "no-such-page"]
)
def test_a_page_is_in_reach_for_anybody(shelf_screen, shelf, open_page, violations, shoot, name):
    paths = {
        "start": "",
        "run": f"runs/{shelf.bad}",
        "why": f"why/{shelf.bad}",
        "compare": f"compare?runs={','.join([*shelf.good[:2], shelf.bad])}",
    }
    page = open_page(shelf_screen.url + paths.get(name, name))
    page.locator("h1, .say").first.wait_for()
    page.wait_for_load_state("networkidle") if name != "start" else None
    page.wait_for_function(DRAWN)
    for theme in ("dark", "light"):
        if theme == "light":
            page.click("[data-choice=theme]")
            page.wait_for_function("() => document.documentElement.dataset.theme === 'light'")
        page.wait_for_function(DRAWN)
        shoot(page, f"{name}-{theme}-tablet")
        assert violations(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    page.reload()
    for theme in ("light", "dark"):
        if theme == "dark":
            page.click("[data-choice=theme]")
            page.wait_for_function("() => document.documentElement.dataset.theme === 'dark'")
        page.locator("h1, .say").first.wait_for()
        page.wait_for_function(DRAWN)
        shoot(page, f"{name}-{theme}-phone")

"""Pages in a browser that may reach this machine alone, and what axe finds wrong on one."""

import contextlib
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

ALLOWED: dict[str, str] = {}
"""Rules of axe that may fail, with the reason; none."""


class Opener:
    """Opens pages that may talk to this machine alone and may not complain."""

    def __init__(self, browser: Any) -> None:
        self._browser = browser
        self.strayed: list[str] = []
        self.complaints: list[str] = []
        self.may_fail = False
        self._open: list[Any] = []

    def __call__(
        self, url: str, *, theme: str = "dark", size: tuple[int, int] = (1280, 800)
    ) -> Any:
        context = self._browser.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=theme
        )
        context.on("request", self._check)
        page = context.new_page()
        page.on("console", self._listen)
        page.on("response", self._answered)
        page.on("pageerror", self._failed)
        page.set_default_timeout(120_000)
        page.goto(url)
        self._open.append(context)
        return page

    def _check(self, request: Any) -> None:
        if urlsplit(request.url).hostname not in ("127.0.0.1", None):
            self.strayed.append(request.url)

    def _answered(self, response: Any) -> None:
        if response.status >= 400 and not self.may_fail:
            asked = (response.request.post_data or "")[:300]
            self.complaints.append(f"{response.status} {response.url} {asked}")

    def _failed(self, error: Any) -> None:
        if not (self.may_fail and "Failed to fetch" in str(error)):
            self.complaints.append(str(error))

    def _listen(self, message: Any) -> None:
        if message.type == "error" and not self.may_fail:
            self.complaints.append(message.text)

    def close(self) -> None:
        for context in self._open:
            context.close()


SIZES = {"tablet": (1280, 800), "phone": (390, 844)}
SMALL = """
() => [...document.querySelectorAll("button, a.key, input, select, label.tick")]
  .filter((b) => b.offsetParent && b.type !== "radio" && b.type !== "checkbox")
  .map((b) => [b.textContent, b.getBoundingClientRect().height])
  .filter(([, height]) => height < 44)
"""


def small_targets(page: Any) -> list[list[Any]]:
    """Return what is to be tapped on a page and is lower than 44 px, with its height [px]."""
    found: list[list[Any]] = page.evaluate(SMALL)
    return found


SCROLLS = """
() => [...document.querySelectorAll("#page *")].filter((part) => {
  const look = getComputedStyle(part);
  const may = (way) => way === "auto" || way === "scroll";
  return part.tagName !== "TEXTAREA"
    && ((may(look.overflowX) && part.scrollWidth > part.clientWidth + 1)
      || (may(look.overflowY) && part.scrollHeight > part.clientHeight + 1));
}).map((part) => part.className)
"""
"""Parts with a scroll bar of their own."""
CUT = """
() => [...document.querySelectorAll(
    "h1, h2, h3, button, .key, .pill, summary, .is-now span, .segments label, [class*=Pill-label]")]
  .filter((part) => part.offsetParent && part.scrollWidth > part.clientWidth + 1
    && getComputedStyle(part).display !== "inline" && !part.closest(".unseen"))
  .map((part) => part.textContent)
"""
"""Headings, buttons and the like whose text is cut."""


def choose(page: Any, name: str) -> None:
    """Press a button of the settings, which stand in a closed menu."""
    page.locator(f"[data-choice={name}]").dispatch_event("click")


def pick(page: Any, field: str, answer: str | re.Pattern[str]) -> None:
    """Open a list and take the first answer in it that holds a text.

    A list hides while its field is off the screen, as where what stands above it grows meanwhile:
    then the field is brought back, and opened again if it closed.
    """
    from playwright.sync_api import TimeoutError as TooLate

    option = page.locator("[role=option]:visible", has_text=answer).first
    for _ in range(60):
        page.locator(field).scroll_into_view_if_needed()
        if page.locator(field).get_attribute("aria-expanded") != "true":
            page.click(field)
        with contextlib.suppress(TooLate):
            option.click(timeout=2_000)
            return
    raise AssertionError(f"{answer!r} of {field} could not be taken")


def open_end(page: Any) -> None:
    """Open the dialog that ends a batch, by its key."""
    expect(page.locator("#do-end")).to_be_attached()
    page.keyboard.press("e")
    expect(page.locator("#end-dialog")).to_be_visible()


def forms(page: Any) -> Iterator[str]:
    """Show a page in the dark on a tablet, in the light on a phone; yield the name of each form.

    Nothing may be wider than the screen.
    """
    had = page.evaluate("document.documentElement.dataset.theme")
    for theme, size in (("dark", "tablet"), ("light", "phone")):
        show_in(page, theme)
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_function(
            "(width) => document.documentElement.scrollWidth <= width", arg=width
        )
        yield f"{theme}-{size}"
    show_in(page, had)
    page.set_viewport_size({"width": 1280, "height": 800})


def show_in(page: Any, theme: str) -> None:
    """Show a page in a theme."""
    if page.evaluate("document.documentElement.dataset.theme") == theme:
        return
    if page.locator("dialog[open]").count():  # the choice lies under it
        page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)
        return
    choose(page, "theme")
    page.wait_for_function("(theme) => document.documentElement.dataset.theme === theme", arg=theme)


def violations_on(page: Any) -> list[str]:
    """Return what axe finds wrong on a page: WCAG 2.2, levels A and AA."""
    import axe_playwright_python

    if not page.evaluate("() => window.axe !== undefined"):
        source = Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text("utf-8")
        page.evaluate(source)
    told = page.evaluate(
        """async () => {
          // A colour on its way to another one is neither.
          const ways = document.getAnimations().filter((way) => way instanceof CSSTransition);
          await Promise.all(ways.map((way) => way.finished.catch(() => null)));
          const told = await axe.run(document, {
            runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
            resultTypes: ["violations"], preload: false });
          return { passes: told.passes.length, violations: told.violations };
        }"""
    )
    assert told["passes"] > 10, "axe saw next to nothing"
    return [
        json.dumps({"rule": v["id"], "where": [n["html"][:160] for n in v["nodes"][:3]],
                    "why": v["nodes"][0]["failureSummary"][:300]})
        for v in told["violations"]
        if v["id"] not in ALLOWED
    ]  # fmt: skip


def text_of(part: Any) -> str:
    """Return all the text in a drawn part, in reading order."""
    if part is None or isinstance(part, bool):
        return ""
    if isinstance(part, str | int | float):
        return str(part)
    if isinstance(part, list | tuple):
        return " ".join(filter(None, (text_of(p) for p in part)))
    return text_of(getattr(part, "children", None))


def expect(*about: Any) -> Any:
    """Return what playwright expects of a part of a page, with two minutes to come true.

    Imported late: without playwright the tests of the browser are skipped.
    """
    from playwright.sync_api import expect as expectation

    expectation.set_options(timeout=120_000)
    return expectation(*about)

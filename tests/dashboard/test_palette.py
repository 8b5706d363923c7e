"""Colours stand out from their ground as WCAG 2.2 asks, and the style sheet has the same ones."""

import re
from dataclasses import asdict
from pathlib import Path

import pytest

from dashboard import palette
from dashboard.palette import GROUNDS, TRACES

CSS = (Path(palette.__file__).parent / "assets" / "kitchen.css").read_text("utf-8")


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb``, 0 black to 1 white (WCAG 2.2)."""
    parts = (int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def css_colours(theme: str) -> dict[str, str]:
    opening = ":root {" if theme == "dark" else ':root[data-theme="light"] {'
    block = CSS[CSS.index(opening) :].split("}", 1)[0]
    return dict(re.findall(r"--([a-z_-]+):\s*(#[0-9a-f]{6})", block))


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#767676", "#ffffff", 4.54)],
)
def test_contrast_is_that_of_wcag(one: str, other: str, ratio: float):
    """21:1 is WCAG 2.2's own end of the scale; #767676 is the lightest grey that passes 4.5:1 on
    white (W3C, Understanding SC 1.4.3: "#777777 ... 4.47:1", from memory to the last digit)."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.01)


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("ground", ["ground", "plate"])
@pytest.mark.parametrize("name", ["ink", "soft", "accent", "warn", "stop", "good"])
def test_text_colours_pass_4_5_to_1(theme, ground, name):
    colours = asdict(GROUNDS[theme])
    assert contrast(colours[name], colours[ground]) >= 4.5


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_text_on_filled_buttons_and_alarms_passes_4_5_to_1(theme):
    colours = asdict(GROUNDS[theme])
    assert contrast(colours["on_accent"], colours["accent"]) >= 4.5
    assert contrast(css_colours(theme)["on-tone"], colours["stop"]) >= 4.5


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_borders_of_buttons_pass_3_to_1(theme):
    colours = asdict(GROUNDS[theme])
    assert contrast(colours["line"], colours["ground"]) >= 3.0
    assert contrast(colours["line"], colours["plate"]) >= 3.0


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("role", list(TRACES["dark"]))
def test_every_trace_passes_3_to_1_on_its_plate(theme, role):
    assert contrast(TRACES[theme][role], GROUNDS[theme].plate) >= 3.0


def test_no_two_temperatures_share_colour_or_dash():
    """Colour is never the only difference: the dash pattern tells them apart too."""
    temps = ["fat", "water", "emulsion", "bath", "core", "room"]
    for theme in ("dark", "light"):
        assert len({TRACES[theme][role] for role in temps}) == len(temps)
    assert len({palette.DASHES[role] for role in temps}) == len(temps)


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_the_style_sheet_repeats_the_palette(theme):
    found = css_colours(theme)
    for name, colour in asdict(GROUNDS[theme]).items():
        assert found[name.replace("_", "-")] == colour
    for role in ("fat", "water", "emulsion", "bath", "core", "room", "other"):
        assert found[f"role-{role}"] == TRACES[theme][role]


def test_nothing_is_fetched_by_the_style_sheet():
    assert "@import" not in CSS
    assert not re.search(r"url\((?!\"data:)", CSS)

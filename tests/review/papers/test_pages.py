"""What stands on the pages: where values lie in a picture, what is left out, and how it is said."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.model.plainly import results_from
from logger.model.rows import NoteRow, PieceRow, StageRow
from logger.review.learn.sheets import template
from logger.review.papers import figures
from logger.review.papers.again import recipe, steps, vessels
from logger.review.papers.figures import thinned, traces_svg
from logger.review.papers.fingerprint import fingerprint
from logger.review.papers.page import came_of, measured_of, page_of
from logger.review.papers.picture import Drawn, Picture
from logger.review.papers.report import report_html
from logger.review.papers.report_content import Photo, ReportContent
from logger.review.papers.report_words import began, came_out, ordered, place
from logger.review.papers.wanted import piece_text
from logger.review.targets import Target

FAT = {
    "key": "heat.fat_c", "check": "fat temperature", "stage": "warm", "verdict": "not met",
    "value": 45.0, "unit": "degC", "expanded_uncertainty": 1.0, "low": 47.0, "high": 57.0,
    "from_s": 800.0, "to_s": 900.0, "channel": "fat", "rule": "guarded", "source": "sheet",
}  # fmt: skip


def content(findings=(), text=None, **more):
    results = more.pop("results", {})
    given = {
        "run_id": "r1", "started": "2026-11-25T09:13:02+00:00", "duration_s": 3000.0,
        "outcome": "rejected", "defects": ["grainy"],
        "results": results_from({"findings": list(findings)} | results),
        "notes": [], "sheet": sheet_from_text(text or template(), "s"), "explanation": None,
        "channels": [], "version": "0.1.0", "data_sha256": "ab", "made": "2026-11-25",
    }  # fmt: skip
    return ReportContent(**(given | more))


def test_a_missed_check_lies_where_its_value_is_between_a_tenth_of_room_at_both_ends():
    """From 44 (45 less 1) to 57: 13 wide, 1.3 of room each side; 45 is 2.3 of 15.6 along."""
    (row,) = page_of(content([FAT])).missed
    assert row.dots == [pytest.approx(2.3 / 15.6, abs=1e-4)]
    assert (row.spread_from, row.spread_to) == pytest.approx((1.3 / 15.6, 3.3 / 15.6), abs=1e-4)
    assert (row.box_from, row.box_to) == pytest.approx((4.3 / 15.6, 14.3 / 15.6), abs=1e-4)
    assert (row.low, row.high) == (True, True)
    (open_end,) = page_of(content([FAT | {"high": None}])).missed
    assert (open_end.box_to, open_end.high, open_end.low) == (1.0, False, True)
    (other,) = page_of(content([FAT | {"low": None, "value": 60.0}])).missed
    assert (other.box_from, other.low) == (0.0, False)


def test_no_more_checks_than_fit_are_on_a_page_and_the_rest_is_counted():
    many = [FAT | {"key": f"k{n}", "check": f"check {n}"} for n in range(7)]
    assert [(len(p.missed), p.more_missed) for p in
            (page_of(content(many[:5])), page_of(content(many[:6])), page_of(content(many)))] == [
        (5, ""), (5, "1 more not met."), (5, "2 more not met."),
    ]  # fmt: skip
    close = [FAT | {"verdict": "undecided", "key": f"k{n}", "check": f"check {n}"}
             for n in range(5)]  # fmt: skip
    assert page_of(content(close)).close == "", "the headline says it where nothing was missed"
    said = page_of(content([FAT, *close])).close
    assert said.count("target") == 3
    assert said.endswith("; 2 more")
    assert not page_of(content([FAT, *close[:3]])).close.endswith("more")


DWELL = {"key": "set.dwell_s", "check": "dwell", "stage": "skin", "unit": "s", "low": 400.0,
         "high": 600.0, "channel": "bath_scale"}  # fmt: skip


def bath(*dwells, verdict="met"):
    rows = [{"piece": n, "in_s": 0.0, "out_s": d, "dwell_s": d, "candidates": []}
            for n, d in enumerate(dwells, 1)]  # fmt: skip
    judged = [DWELL | {"piece": n, "value": d, "verdict": verdict}
              for n, d in enumerate(dwells, 1)]  # fmt: skip
    pieces = [{"piece": 1, "coat_mm": 0.61, "bare_mass_g": 62.0}]
    return content(judged, results={"immersions": rows, "pieces": pieces})


def test_a_bar_is_as_long_as_its_dwell_and_the_longest_leaves_a_little_room():
    """The longest of dwells and target is 600 s; six percent are left free."""
    page = page_of(bath(500.0, 300.0))
    first, second = page.bars
    assert first.share == pytest.approx(500.0 / 636.0, abs=1e-4)
    assert second.share == pytest.approx(300.0 / 636.0, abs=1e-4)
    assert (first.box_from, first.box_to) == pytest.approx((400 / 636, 600 / 636), abs=1e-4)
    assert (first.has_target, first.look, first.dwell) == (True, "good", "8:20")
    assert (first.coat, second.coat) == ("0.61 mm", "")
    assert page.bars_target == "6:40 to 10:00"
    assert page_of(bath(700.0)).bars[0].share == pytest.approx(1.0 / 1.06, abs=1e-4)
    assert page_of(bath(500.0, verdict="not met")).bars[0].look == "stop"
    assert page_of(bath(500.0, verdict="undecided")).bars[0].look == "warn"


def test_twelve_pieces_have_bars_and_one_without_a_target_or_an_end_says_so():
    assert page_of(bath(*[500.0] * 12)).more_bars == ""
    assert page_of(bath(*[500.0] * 13)).more_bars == "1 piece more."
    rows = [{"piece": None, "in_s": 0.0, "out_s": None, "dwell_s": None, "candidates": [90.0]}]
    (bar,) = page_of(content(results={"immersions": rows})).bars
    assert (bar.piece, bar.has_target, bar.box_from, bar.box_to) == ("?", False, 0.0, 1.0)
    assert bar.dwell.endswith(" or 1:30 still in")


def test_pieces_that_something_is_known_of_are_listed():
    rows = [PieceRow(piece=2, bare_mass_g=60.0), PieceRow(piece=1)]
    found = content(piece_defects={3: ("burst", "pale")})
    found.results.pieces[:] = rows
    assert [(c.piece, c.defects, c.mass) for c in came_of(found)] == [
        ("1", "none noted", "–"), ("2", "none noted", "60.0 g"), ("3", "burst, pale", "–"),
    ]  # fmt: skip
    assert len(came_of(found, 2)) == 2


def test_notes_and_photos_beyond_the_page_are_counted():
    notes = [NoteRow(t_s=60.0 * n, text=f"note {n}") for n in range(6)]
    assert page_of(content(notes=notes[:4])).notes[-1] == "3:00 note 3"
    assert page_of(content(notes=notes)).notes[-1] == "2 notes more."
    photos = [Photo(title="t", width=4, height=3, picture=b"x") for _ in range(11)]
    page = page_of(content(photos=photos))
    assert (len(page.photos), page.more_photos) == (9, "2 more photos on the run's page")
    assert page_of(content(photos=photos[:9])).more_photos == ""
    assert 'width="4" height="3"' in page.photos[0].picture


def test_where_limits_and_doubts_come_from_is_said():
    sensors = [{"channel": c, "label": c, "check": check, "says": "x"}
               for c, check in (("a", "good"), ("b", "good"), ("c", "overdue"))]  # fmt: skip
    sources = [FAT | {"source": f"book {n}", "key": f"k{n}"} for n in range(8)]
    gaps = [{"channel": "fat", "from_s": 1.0}]
    found = page_of(content(sources, results={"sensors": sensors, "gaps": gaps})).origin
    assert found[0] == "2 sensors checked and in date."
    assert "1 gap in the readings." in found
    named = next(text for text in found if text.startswith("Limits not from the sheet"))
    assert named.count("book") == 6
    assert named.endswith("; 2 more.")
    bare = page_of(content([FAT])).origin
    assert not any(text.startswith(("Limits", "1 gap", "0")) for text in bare)
    six = page_of(content(sources[:6])).origin
    assert not any("more." in text for text in six)


def test_the_head_says_length_size_and_who():
    about = page_of(content()).about
    assert about.startswith("revision 1 · ")
    assert "50 min" in about
    assert "unknown length" in page_of(content(duration_s=None)).about
    planned = page_of(content()).planned
    assert planned.endswith(" planned")
    assert page_of(content(outcome="accepted")).rejected is False


def test_what_the_sheet_declares_is_said_or_missing():
    text = template() + '\n[[result]]\nname = "bite force"\nunit = "N"\n'
    said = measured_of(content(text=text, because="thin skin"))
    assert said[-2:] == ["Not measured: bite force", "Cause that was found: thin skin"]
    assert measured_of(content()) == []


def test_a_report_on_a_page_says_one_and_several_good_runs_and_no_pour_that_goes_on():
    pours = [{"channel": "b", "start_s": 10.0, "end_s": 20.0, "mass_g": 30.0},
             {"channel": "b", "start_s": 30.0, "end_s": None, "mass_g": 31.0}]  # fmt: skip
    page = report_html(content([FAT], results={"pours": pours}))
    assert "30.0 g" in page
    assert "31.0 g" not in page
    assert "unknown length" in report_html(content(duration_s=None))


def test_a_day_and_a_place_are_written_short():
    assert began("2026-11-25T09:13:02+01:00") == "25 Nov 2026, 09:13 +01:00"
    assert began("2026-11-25T09:13:02+00:00") == "25 Nov 2026, 09:13 UTC"
    assert came_out(None, ["x"]) == "nobody has said yet how it came out"
    assert came_out("accepted", []) == "accepted"
    assert came_out("rejected", ["grainy", "pale"]) == "rejected: grainy, pale"
    found = content([FAT | {"verdict": v} for v in ("met", "not measured", "undecided", "not met")])
    stands = [f.verdict for f in ordered(found.results.findings)]
    assert stands == ["not met", "undecided", "not measured", "met"]
    assert place(found.results.findings[0]) == "warm"
    assert place(replace(found.results.findings[0], piece=3)) == "warm, piece 3"


def test_the_recipe_has_what_was_surely_weighed_and_each_stage_its_length_and_checks():
    weighed = [{"ingredient": "cocoa butter", "phase": "fat", "mass_g": 181.0,
                "expanded_uncertainty_g": 0.04},
               {"ingredient": "smoked beet stock", "phase": "water", "mass_g": 331.0,
                "confidence": 0.5}]  # fmt: skip
    ran = [{"id": "warm", "kind": "heat", "start_s": 100.0, "end_s": 400.0},
           {"id": "combine", "kind": "emulsify", "start_s": 400.0, "end_s": None}]  # fmt: skip
    found = content([FAT, FAT | {"verdict": "undecided", "stage": "combine"}],
                    results={"weighings": weighed, "stages": ran})  # fmt: skip
    rows = {row.name: row for phase in recipe(found) for row in phase.rows}
    assert rows["cocoa butter"].weighed == "181.00"
    assert rows["smoked beet stock"].weighed == "–"
    assert rows["cocoa butter"].planned == "180 g"
    made = {step.title: step for step in steps(found)}
    titles = {s.id: s.title or s.id for s in found.sheet.stage}
    warm, combine = made[titles["warm"]], made[titles["combine"]]
    assert (warm.took, warm.checks, warm.look) == ("5:00", "1 not met", "stop")
    assert (combine.took, combine.checks, combine.look) == ("–", "1 too close", "warn")
    assert "fat 47 to 58 °C" in warm.what
    pieces = [step for step in steps(found) if "across" in step.what]
    assert len(pieces) <= 1, "the shape is said once"


@pytest.mark.parametrize(
    ("body", "length_mm", "says"),
    [("cylinder", 130.0, "cylinder 26 mm across, 130 mm long"), ("sphere", 1.0, "sphere 26 mm "),
     ("patty", 15.0, "patty 26 mm across, 15 mm thick"), ("cylinder", None, "cylinder 26 mm ")],
)  # fmt: skip
def test_a_shape_is_said_in_words(body, length_mm, says):
    piece = SimpleNamespace(body=body, diameter_mm=26.0, length_mm=length_mm)
    assert piece_text(piece) == (says if "," in says else f"{says}across")


def test_a_vessel_is_said_with_all_that_is_known_of_it():
    bowl = '\n[[vessel]]\nid = "b"\nholds = "bowl"\nmass = "250 g"\nmaterial = "glass"\n'
    text = '[sheet]\nname = "R"\n' + bowl + 'temp = "22 degC"\n'
    assert vessels(content(text=text)) == ["b, for the bowl: glass, 250 g, at 22 °C"]


class Stored:
    def __init__(self, value=1.0, flags=0, t_ns=5):
        self.parts = np.array([t_ns]), np.array([value]), np.array([flags])

    def sheet(self):
        return sheet_from_text(template(), "s")

    def bench(self):
        return bench_of_roles(["fat"])

    def readings(self, channel):
        t_ns, value, flags = self.parts
        return SimpleNamespace(t_ns=t_ns, value=value, flags=flags)


def test_a_fingerprint_is_of_every_reading_and_one_kind_of_nan():
    prints = {fingerprint(Stored(**k)) for k in ({}, {"value": 2.0}, {"flags": 1}, {"t_ns": 6})}
    assert len(prints) == 4
    quiet, loud = np.nan, np.frombuffer(b"\x01\x00\x00\x00\x00\x00\xf0\x7f", dtype="<f8")[0]
    assert fingerprint(Stored(value=quiet)) == fingerprint(Stored(value=loud))
    assert re.fullmatch("[0-9a-f]{64}", fingerprint(Stored()))


def drawn(value, *, t_s=None, **more):
    t_s = np.arange(float(len(value))) if t_s is None else np.asarray(t_s)
    given = {"id": "fat", "role": "fat", "label": "Fat", "unit": "degC"}
    return Drawn(**(given | more), t_s=t_s, value=np.asarray(value, dtype=float))


def elements(svg, tag):
    return [dict(re.findall(r'([\w-]+)="([^"]*)"', found))
            for found in re.findall(rf"<{tag} [^>]*>", svg)]  # fmt: skip


def points(svg):
    (path,) = elements(svg, "path")
    return [(m, float(x), float(y)) for m, x, y in
            re.findall(r"([ML])([\d.]+) ([\d.]+)", path["d"])]  # fmt: skip


def test_a_line_goes_from_the_first_to_the_last_reading_and_breaks_at_a_gap():
    """The left end is at 30; the name of three letters leaves 4.9 for each and 10 at the right."""
    svg = traces_svg(Picture(channels=[drawn([20.0, 30.0, np.nan, 40.0])], stages=[]))
    right = 720.0 - 10.0 - 3 * 4.9
    found = points(svg)
    assert [m for m, _, _ in found] == ["M", "L", "L"], "too short a hole to be a gap"
    assert (found[0][1], found[-1][1]) == (30.0, pytest.approx(right, abs=0.1))
    # 20 to 40 with 6 % of room at both ends, in a height of 232 from 22 down.
    low, high = 20.0 - 1.2, 40.0 + 1.2
    for (_, _, y), value in zip(found, (20.0, 30.0, 40.0), strict=True):
        assert y == pytest.approx(254.0 - 232.0 * (value - low) / (high - low), abs=0.06)
    torn = traces_svg(Picture(channels=[drawn([20.0] * 5, t_s=[0, 1, 2, 3, 100])], stages=[]))
    assert [m for m, _, _ in points(torn)] == ["M", "L", "L", "L", "M"]


def test_a_steady_trace_has_a_least_height():
    svg = traces_svg(Picture(channels=[drawn([20.0, 20.0])], stages=[]))
    assert points(svg)[0][2] == pytest.approx(22.0 + 232.0 / 2.0, abs=0.1)


def test_scales_have_lanes_of_their_own_and_stay_where_there_is_nothing_else():
    scale = drawn([100.0, 200.0], id="b", role="bath_scale", label="Bath", unit="g")
    both = Picture(channels=[drawn([20.0, 30.0]), scale], stages=[])
    assert len(elements(traces_svg(both), "path")) == 2
    assert len(elements(traces_svg(both, masses=False), "path")) == 1
    alone = Picture(channels=[scale], stages=[])
    assert len(elements(traces_svg(alone, masses=False), "path")) == 1
    # One lane of 48 below the ribbon of 22, and 18 for the times.
    assert elements(traces_svg(alone), "svg")[0]["viewBox"] == "0 0 720 88"
    assert elements(traces_svg(both), "svg")[0]["viewBox"] == "0 0 720 330"
    nothing = traces_svg(Picture(channels=[drawn([np.nan, np.nan])], stages=[]))
    assert "no readings" in nothing


def test_stages_are_a_ribbon_and_targets_are_boxes():
    stages = [StageRow(id="warm", kind="heat", title="Melt", start_s=0.0, end_s=50.0),
              StageRow(id="skin", kind="set", title="Set", start_s=50.0, end_s=None),
              StageRow(id="air", kind="dry", title="Dry")]  # fmt: skip
    target = Target(channel="fat", from_s=25.0, to_s=50.0, low=45.0, high=50.0)
    picture = Picture(channels=[drawn(np.linspace(40.0, 60.0, 101))], stages=stages,
                      missed=frozenset({"warm"}), targets=[target], pours_s=[25.0])  # fmt: skip
    svg = traces_svg(picture)
    right = 720.0 - 10.0 - 3 * 4.9
    half = (right - 30.0) / 2.0
    shade, ribbon, second, box = elements(svg, "rect")
    assert float(shade["x"]) == float(ribbon["x"]) == 30.0
    assert float(ribbon["width"]) == pytest.approx(half - 1.0, abs=0.2)
    assert (shade["fill-opacity"], "fill-opacity" in ribbon) == ("0.08", False)
    assert ribbon["fill"] == shade["fill"] == figures.STOP != second["fill"]
    assert float(second["x"]) == pytest.approx(30.0 + half, abs=0.2)
    assert float(second["width"]) == pytest.approx(half - 1.0, abs=0.2)
    assert float(box["x"]) == pytest.approx(30.0 + half / 2.0, abs=0.2)
    assert float(box["width"]) == pytest.approx(half / 2.0, abs=0.2)
    assert float(box["height"]) == pytest.approx(232.0 * 5.0 / (20.0 * 1.12), abs=0.2)
    for text in ("Melt", "Set", "pour 0:25", "0:00", "1:30"):
        assert f">{text}<" in svg
    assert ">Dry<" not in svg
    late = traces_svg(replace(picture, pours_s=[80.0]))
    assert 'text-anchor="end">pour 1:20' in late
    assert 'text-anchor="end">pour 1:19' not in traces_svg(replace(picture, pours_s=[79.0]))


def test_a_short_trace_is_drawn_as_it_is_and_a_long_one_by_its_extremes():
    t_s = np.arange(700.0)
    assert thinned(t_s, t_s)[0].size == 700
    longer = np.arange(701.0)
    thin_t, thin_v = thinned(longer, longer)
    assert thin_t.size == 700
    assert (thin_v[0], thin_v[-1]) == (0.0, 700.0)
    assert thinned(t_s[:1], t_s[:1])[0].size == 1
    holes = np.concatenate([np.arange(5.0), np.arange(100.0, 105.0)])
    assert np.isnan(thinned(holes, holes)[1]).sum() == 1
    for gap_s, broken in ((8.0, 0), (8.1, 1)):  # of steps of a second
        t = np.concatenate([np.arange(5.0), 4.0 + gap_s + np.arange(5.0)])
        assert np.isnan(thinned(t, t)[1]).sum() == broken

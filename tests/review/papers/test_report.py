"""A report stands alone, escapes what people typed, and says where it comes from."""

import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from xml.etree import ElementTree

import numpy as np
import pytest
from pypdf import PdfReader

from logger.model.files import sheet_from_text
from logger.model.finding import Results
from logger.model.plainly import results_from
from logger.model.rows import GapRow, NoteRow, PieceRow, StageRow
from logger.review.learn.sheets import template
from logger.review.papers.figures import COLOURS, thinned, traces_svg
from logger.review.papers.page import page_of
from logger.review.papers.picture import Drawn, Picture
from logger.review.papers.report import report_html
from logger.review.papers.report_content import ReportContent
from logger.review.papers.report_pages import report_pdf, report_png
from logger.review.targets import Target
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge

NASTY = '<script>alert("x")</script> & $\\frac{1}{0}$ </style></svg>'


def replaced_name(sheet):
    """The sheet under a name that a page and a page of paper must not take for markup."""
    head = sheet.sheet.model_copy(update={"name": "Roll " + NASTY})
    return sheet.model_copy(update={"sheet": head})


@pytest.fixture
def content(make_run, good_runs):
    t = np.arange(0.0, 3000.0, 0.2)
    run = make_run("bad", outcome="rejected", defects=["grainy"], changed={"fat_at_pour_c": 35.0})
    finding = {
        "key": "heat.fat_c", "check": "fat temperature", "stage": "warm", "verdict": "not met",
        "value": 35.0,
        "unit": "degC", "expanded_uncertainty": 0.5, "low": 47.0, "high": 58.0, "from_s": 800.0,
        "to_s": 900.0, "evidence": "35.0 ± 0.5 °C, below the target of 47 to 58 °C", "piece": None,
        "channel": "fat", "rule": "guarded", "source": "sheet",
    }  # fmt: skip
    results = {
        "stages": [{"id": "warm", "kind": "heat", "start_s": 0.0, "end_s": 900.0},
                   {"id": "skin", "kind": "set", "start_s": 900.0, "end_s": None}],
        "pours": [{"channel": "bowl_scale", "start_s": 910.0, "end_s": 1000.0, "mass_g": 178.0,
                   "rate_g_per_min": 118.0}],
        "immersions": [{"piece": 1, "in_s": 1000.0, "out_s": 1500.0, "dwell_s": 500.0,
                        "set_fraction": 1.0, "confidence": 0.97, "verdict": "met"},
                       {"piece": None, "in_s": 1100.0, "out_s": None, "dwell_s": None}],
        "findings": [{**finding, "verdict": "met", "check": "water"}, finding],
        "weighings": [
            {"ingredient": "cocoa butter", "phase": "fat", "mass_g": 180.2,
             "expanded_uncertainty_g": 0.04}
        ],
        "gaps": [{"channel": "fat", "from_s": 10.0, "to_s": 20.0, "why": "unplugged"}],
        "sensors": [
            {"channel": "fat", "label": "Fat", "check": "overdue",
             "says": "checked 410 days ago; check it in ice water"},
            {"channel": "bath", "label": "Bath", "check": "never", "says": "never checked"},
        ],
        "derived": [{"channel": "fat", "label": "Fat", "kind": "without lag",
                     "time_constant_s": 3.5, "largest_k": 1.24}],
    }  # fmt: skip
    text = template().replace('lot = ""', 'lot = "CB-<7>"', 1)
    return ReportContent(
        run_id="r1",
        started="2026-11-25T09:13:02+01:00",
        duration_s=3000.0,
        outcome="rejected",
        defects=["grainy"],
        results=results_from(results),
        notes=[NoteRow(t_s=12.0, text=NASTY)],
        sheet=replaced_name(sheet_from_text(text, "s")),
        explanation=explain(run, good_runs, builtin_knowledge()),
        channels=[
            Drawn(label="Fat $x$", unit="degC", t_s=t, value=50.0 + np.sin(t / 100.0)),
            Drawn(label="Bath scale", unit="g", t_s=t, value=np.where(t > 1500, np.nan, 2600.0)),
        ],
        cautions=("hot fat burns",),
        version="0.1.0",
        data_sha256="ab" * 32,
        made="2026-11-25",
    )


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.asked, self.open = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.asked += [v for k, v in attrs if k in ("src", "href", "xlink:href", "data", "action")]
        self.asked += re.findall(r"url\(([^)]*)\)", dict(attrs).get("style") or "")


def test_a_report_asks_for_nothing_outside_itself(content):
    page = report_html(content)
    parsed = Tags()
    parsed.feed(page)
    assert "script" not in parsed.tags
    assert not {"link", "img", "iframe", "object"} & set(parsed.tags)
    assert all(a.startswith("#") for a in parsed.asked)
    assert "@import" not in page


def test_what_a_person_typed_is_escaped(content):
    page = report_html(content)
    assert "<script" not in page
    assert "&lt;script&gt;alert(&quot;x&quot;)" in page
    assert "CB-&lt;7&gt;" in page
    assert page.count("</style>") == page.count("<style")


def test_a_report_says_what_where_from_and_how_sure(content):
    page = report_html(content)
    for text in (
        "ab" * 32, "bainlog", "0.1.0", "guarded", "k = 2", "the fat was poured too cool",
        "Wrong if", "Next time", "35.0 ± 0.5 °C, below the target of 47 to 58 °C", "hot fat burns",
        "180.20 ± 0.04 g", "How to make it again", "cylinder 26 mm across, 115 mm long",
        "does not certify food", "8 min 20 s", "still in", "ranking, not a probability",
    ):  # fmt: skip
        assert text in page, text
    assert page.index("✗ not met") < page.index("✓ met")


def test_a_table_of_pieces_has_the_verdict_of_the_dwell_and_no_share_without_uncertainty(content):
    """The share of the skin is a finding, with its uncertainty and a verdict of its own."""
    page = report_html(content)
    table = page[page.index("Pieces in the bath") :].partition("</table>")[0]
    assert "dwell verdict" in table
    assert "97 %" in table  # which piece it was
    assert "100 %" not in table


def test_the_same_run_gives_the_same_report(content):
    assert report_html(content) == report_html(content)


def test_a_run_without_readings_explanation_or_findings_still_makes_a_report(content):
    bare = replace(content, results=Results(), notes=(), explanation=None, channels=())
    assert "How it came out" in report_html(bare)
    assert len(pdf_of(bare).pages) == 2


def pdf_of(content, paper="a4"):
    file = io.BytesIO()
    report_pdf(content, file, paper)
    return PdfReader(file)


def words_of(content):
    """The text of a PDF as a reader finds it, its spaces and line breaks taken as one."""
    return " ".join("\n".join(page.extract_text() for page in pdf_of(content).pages).split())


# A4 is 210 by 297 mm: ISO 216; letter is 8 1/2 by 11 in: ANSI/ASME Y14.1 (from memory)
@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_on_paper_it_is_two_tagged_pages_of_the_size_asked_for(content, paper, size_mm):
    pdf = pdf_of(content, paper)
    assert [
        [float(side) * 25.4 / 72.0 for side in page.mediabox[2:4]] for page in pdf.pages
    ] == pytest.approx(np.array([size_mm, size_mm]), abs=0.3)
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    for page in pdf.pages:  # every font is in the file, and nothing in it is a picture of dots
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(inner)
        assert not list(page.images)


def test_the_pages_say_what_it_came_to_and_how_to_make_it_again(content):
    text = words_of(content)
    says = content.said().headline
    assert says == "Fat temperature too low: 35.0 °C, target 47 to 58 °C."
    for part in (
        says, "1 not met 1 met of 2 checks", "± 0.5 K", "8:20", "How to make it again", "180.20",
        "CB-<7>", "Rejected: grainy", "hot fat burns", "guarded", "k = 2 (JCGM 100:2008)",
        "does not certify food", "ab" * 16, "Fat: checked 410 days ago; check it in ice water.",
        "Sensors never checked: Bath.", "also saved without the probe's lag", "page 2 of 2",
    ):  # fmt: skip
        assert part in text, part
    assert says in report_html(content).replace("&#x27;", "'")


TYPED = '#eval("1 + 1") *x* _y_ $z$ @y <tag> \\u{41} -- ~ `c` = // /* [a] #(1)'


def test_what_a_person_typed_is_no_markup_on_paper(content):
    """Names, titles, labels and notes are shown as they were typed."""
    sheet = content.sheet
    stages = [stage.model_copy(update={"title": TYPED}) for stage in sheet.stage[:1]]
    sheet = sheet.model_copy(
        update={"sheet": sheet.sheet.model_copy(update={"name": TYPED}), "stage": stages}
    )
    channels = [replace(content.channels[0], label=TYPED[:20]), *content.channels[1:]]
    notes = [NoteRow(t_s=1.0, text=TYPED + "\x00\x1b")]
    text = words_of(replace(content, sheet=sheet, channels=channels, notes=notes))
    assert text.count(TYPED) >= 3
    assert "eval" in text


def test_a_letter_that_the_fonts_lack_stops_no_report(content):
    head = content.sheet.sheet.model_copy(update={"name": "Rolle \U0001f600 \u6f22"})
    named = replace(content, sheet=content.sheet.model_copy(update={"sheet": head}))
    assert len(pdf_of(named).pages) == 2


def test_twelve_pieces_twelve_stages_and_long_names_are_two_pages(content):
    """More checks, pieces, notes than a page holds are counted there."""
    missed = next(f for f in content.results.findings if f.verdict == "not met")
    many = [replace(missed, stage="warm", key=f"k{n}", check=f"check {n}") for n in range(9)]
    first = content.results.immersions[0]
    results = replace(
        content.results,
        findings=[*content.results.findings, *many],
        immersions=[replace(first, piece=n) for n in range(1, 15)],
        pieces=[PieceRow(piece=n, bare_mass_g=60.0) for n in range(1, 15)],
    )
    longer = " of the second harvest, sifted twice"
    sheet = content.sheet
    stages = [s.model_copy(update={"title": (s.title or s.id) + longer}) for s in sheet.stage]
    stages += [s.model_copy(update={"id": f"{s.id}-again"}) for s in stages]
    ingredients = [i.model_copy(update={"name": i.name + longer}) for i in sheet.ingredient]
    sheet = sheet.model_copy(update={"stage": stages[:12], "ingredient": ingredients})
    channels = [replace(channel, label=channel.label + longer) for channel in content.channels]
    full = replace(content, results=results, sheet=sheet, channels=channels)
    assert len(pdf_of(full).pages) == len(pdf_of(full, "letter").pages) == 2
    page = page_of(full)
    assert (page.more_missed, page.more_bars) == ("5 more not met.", "2 pieces more.")


def test_as_a_picture_it_is_one_png_of_both_pages(content):
    picture = io.BytesIO()
    report_png(content, picture)
    header = picture.getvalue()[:24]
    assert header.startswith(b"\x89PNG")
    wide, high = (int.from_bytes(header[at : at + 4], "big") for at in (16, 20))
    assert (wide, high > wide) == (1240, True)  # 210 mm at 150 dots per inch


def test_thinning_keeps_extremes_and_gaps():
    t = np.concatenate([np.arange(0.0, 500.0, 0.1), np.arange(600.0, 1000.0, 0.1)])
    v = np.sin(t / 50.0)
    v[1234], v[7001] = 9.0, -9.0
    thin_t, thin_v = thinned(t, v, 100)
    assert len(thin_t) < 320
    assert np.nanmax(thin_v) == 9.0
    assert np.nanmin(thin_v) == -9.0
    assert np.isnan(
        thin_v[np.searchsorted(thin_t, 550.0) - 1 : np.searchsorted(thin_t, 601.0)]
    ).any()


@pytest.mark.browser
def test_a_report_passes_axe_makes_no_request_and_prints_to_a4(content, tmp_path, browser):
    from axe_playwright_python.sync_playwright import Axe

    path = tmp_path / "report.html"
    path.write_text(report_html(content).replace("default-src 'none'", "default-src 'unsafe-eval'"),
                    encoding="utf-8")  # fmt: skip
    asked, errors = [], []
    page = browser.new_page()
    page.on("request", lambda r: asked.append(r.url))
    page.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
    page.goto(path.as_uri())
    pdf = page.pdf(format="A4", prefer_css_page_size=True)
    assert asked == [path.as_uri()]
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]})
    page.close()
    assert errors == []
    assert found.violations_count == 0, found.generate_report()
    boxes = re.findall(rb"/MediaBox\s*\[([\d. ]+)\]", pdf)
    assert boxes
    width, height = (float(x) for x in boxes[0].split()[2:4])
    assert (width, height) == pytest.approx((595, 842), abs=2)


def test_the_checks_of_the_sensors_stand_in_it(content):
    page = report_html(content)
    assert "checked 410 days ago; check it in ice water" in page
    assert "never checked" in page


def test_what_is_kept_beside_the_readings_is_said_and_drawn(content):
    assert "also saved without the probe&#x27;s lag" in report_html(content)
    fat = content.channels[0]
    with_lag = replace(fat, without_lag=fat.value + 1.0)
    drawn = [traces_svg(Picture(channels=[c], stages=[])) for c in (fat, with_lag)]
    assert ["without-lag" in svg for svg in drawn] == [False, True]


def test_traces_are_lines_in_the_colours_of_the_screen_with_names_at_their_ends():
    t_s = np.arange(0.0, 100.0)
    fat = Drawn(id="fat", role="fat", label="Fat <1>", unit="degC", t_s=t_s, value=40.0 + t_s / 10)
    bath = Drawn(id="b", role="bath_scale", label="Bath scale", unit="g", t_s=t_s, value=2600 + t_s)
    stages = [StageRow(id="warm", kind="heat", title="Melt", start_s=0.0, end_s=50.0)]
    picture = Picture(
        channels=[fat, bath],
        stages=stages,
        missed=frozenset({"warm"}),
        targets=[Target(channel="fat", from_s=0.0, to_s=50.0, low=42.0, high=None)],
        pours_s=[25.0],
        gaps=[GapRow(channel="fat", from_s=60.0 + n / 1000.0) for n in range(200)],
    )
    root = ElementTree.fromstring(traces_svg(picture))  # noqa: S314 - our own
    tags = [element.tag.partition("}")[2] for element in root.iter()]
    assert set(tags) == {"svg", "path", "rect", "line", "text"}
    texts = [element.text for element in root.iter() if element.text]
    assert {"Melt", "Fat <1>", "Bath scale", "pour 0:25", "0:00", "°C", "g"} <= set(texts)
    paths = [e.attrib for e in root.iter() if e.tag.endswith("path")]
    assert [p["stroke"] for p in paths] == [COLOURS["fat"], COLOURS["fat"], COLOURS["bath_scale"]]
    assert [p.get("opacity") for p in paths] == ["0.55", None, None]
    ticks = [e for e in root.iter() if e.attrib.get("stroke") == "#857866"]
    assert len(ticks) <= 3  # 200 gaps in little more than a pixel
    assert traces_svg(picture, masses=False).count("Bath scale") == 0

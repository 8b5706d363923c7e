"""A report stands alone, escapes what people typed, and says where it comes from."""

import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from logger.model.files import sheet_from_text
from logger.model.finding import Results
from logger.model.plainly import results_from
from logger.model.rows import NoteRow
from logger.review.learn.sheets import template
from logger.review.papers import report_pages
from logger.review.papers.figures import Drawn, thinned, traces_figure
from logger.review.papers.report import report_html
from logger.review.papers.report_content import ReportContent
from logger.review.papers.report_pages import report_pdf, report_png
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
        "180.20 ± 0.04 g",
        "does not certify food", "8 min 20 s", "still in", "rank, no probability",
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
    file = io.BytesIO()
    assert report_pdf(bare, file) == 2


def test_on_paper_it_is_pages_of_a_pdf_or_a_png(content):
    file = io.BytesIO()
    pages = report_pdf(content, file)
    assert file.getvalue().startswith(b"%PDF")
    assert len(re.findall(rb"/Type /Page\b", file.getvalue())) == pages >= 2
    boxes = re.findall(rb"/MediaBox\s*\[([\d. ]+)\]", file.getvalue())
    assert len(boxes) == pages
    for box in boxes:  # A4 is 210 by 297 mm: ISO 216
        assert [float(x) * 25.4 / 72.0 for x in box.split()[2:4]] == pytest.approx(
            [210.0, 297.0], abs=0.3
        )
    picture = io.BytesIO()
    report_png(content, picture)
    assert picture.getvalue().startswith(b"\x89PNG")


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
    lines = list(report_pages._lines(content))
    assert "Fat: checked 410 days ago; check it in ice water." in lines
    assert "Never checked: Bath." in lines


def test_what_is_kept_beside_the_readings_is_said_and_drawn(content):
    assert "also kept without the probe&#x27;s lag" in report_html(content)
    assert any("also kept without the probe's lag" in line for line in report_pages._lines(content))
    fat = content.channels[0]
    with_lag = replace(content, channels=[replace(fat, without_lag=fat.value + 1.0)])
    plain = replace(content, channels=[fat])
    drawn = [len(traces_figure(c.channels, []).axes[0].lines) for c in (plain, with_lag)]
    assert drawn == [1, 2]

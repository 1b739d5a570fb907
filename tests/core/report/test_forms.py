"""What every form keeps to: width, pages, characters, escaping, completeness."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.exchange.json_export import chart_doc
from limbscribe.core.report.forms import rendered
from limbscribe.core.report.markdown import escaped
from limbscribe.core.report.model import Report, ReportStation
from limbscribe.core.report.text import PAGE, WIDTH, pages_of, render_text

from tests.support.pages import Page
from tests.support.records import MUSCLES
from tests.support.reports import CODE, flat, long, report_of

# Text -------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [0, 4, 40])
@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_text_keeps_to_its_pages(size: int, kind: str, request: pytest.FixtureRequest):
    report = long(request.getfixturevalue(kind), size)
    pages = render_text((report, report)).split("\f")
    own = pages_of(report)
    assert pages == own * 2
    for number, page in enumerate(own, 1):
        rows = page.removesuffix("\n").split("\n")
        assert page.endswith("\n")
        assert len(rows) <= PAGE
        assert max(map(len, rows)) <= WIDTH
        assert rows[0].startswith(f"{CODE}  01 Apr 2026  record {report.record} ")
        assert rows[0].endswith(f" page {number} of {len(own)}")
        assert re.fullmatch(r"[ -~\n]*", page)
        assert rows[3], "no page begins with an empty line"


def test_header_fits_with_the_longest_code_and_a_conflict(report: Report):
    worst = replace(report, code="A" * 24, record="0123456789ab+0123456789ab")
    head = pages_of(worst)[0].split("\n")[0]
    assert len(head) == WIDTH
    assert "A" * 24 in head
    assert "0123456789ab" in head
    assert re.search(r"page 1 of \d$", head)


def test_stations_are_not_parted_by_pages(report: Report):
    for page in pages_of(long(report)):
        rows = page.split("\n")[3:]
        assert rows[0][:1] != " ", rows[0]


def test_short_form_has_ten_lines_and_every_reading(report: Report, hostile: Report):
    for one in (report, hostile, long(report)):
        rows = rendered(one, "short").removesuffix("\n").split("\n")
        assert len(rows) <= 10
        assert all(re.fullmatch("[ -~]+", row) for row in rows)
    text = rendered(long(report), "short")
    assert text.count(" R1 ") >= 40


# Every reading, and the same numbers everywhere --------------------------------------------


def wanted(station: ReportStation) -> tuple[str, ...]:
    return (station.title, f"R1 {station.r1}, R2 {station.r2}, quality {station.quality}")


@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_every_reading_is_told(form: str, report: Report):
    text = rendered(report, form)
    text = Page(text).text if form == "html" else text.replace("\\-", "-")
    assert len(report.stations) == 4
    for station in report.stations:
        for words in wanted(station):
            assert words in flat(text)


def test_table_equals_the_json_export(tiny_chart: Chart):
    """Angles as read, gap and shortfall are those of the export, for every session."""
    exported = chart_doc(tiny_chart, MUSCLES)["sessions"]
    assert len(exported) == 3
    counted = 0
    for document in exported:
        report = report_of(tiny_chart, document["date"])
        rows = Page(rendered(report, "html")).rows
        start = next(n for n, row in enumerate(rows) if row[:2] == ["Muscle", "Side"])
        for reading, row in zip(document["readings"], rows[start + 1 :], strict=False):
            name = MUSCLES[reading["muscle"]].name
            assert row[:3] == [name, reading["side"].capitalize(), reading["fast_velocity"]]
            for key, cell in zip(("r1", "r2", "quality", "gap", "shortfall"), row[3:], strict=True):
                shown = re.fullmatch("-?[0-9]+", cell)
                assert (int(cell) if shown else None) == reading[key], (name, key)
                counted += 1
    assert counted == 8 * 5


def test_report_tells_what_a_reader_must_know(report: Report):
    text = flat(rendered(report, "text"))
    for words in (
        "Examiner: EF",
        "Closed and signed: CD, 02 Apr 2026 12:00 UTC+02:00",
        "tone-lowering medication: 95 min",
        "Cautions before the first fast stretch: confirmed on screen",
        "examiner: AB then, EF now (can move R1, R2, gap, quality, shortfall)",
        "Left open: Hamstrings, Right",
        "Measured then and not now: Hamstrings, Right, V3: R1 -40",
        "01 Mar 2026 botulinum toxin, Gastrocnemius, Left",
        "cycle: toxin day 31",
        "fast tries: -2, no catch, -4",
        "clonus: 3 s",
        "pain: 4 of 10",
        "R1 no catch, R2 -30, quality 1, gap -,",
        "flag, impossible: R1 lies beyond R2",
        "override: r1-beyond-r2: new orthosis since Monday",
        "not tested: other: new orthosis since Monday",
        "SUPERSEDED: R1 -2",
        "Amended by GH, 02 Apr 2026 12:00 UTC+02:00: misheard;",
        "MDC from R1, R2, shortfall: M1; gap: M2",
        "M1: no figure fits in every respect",
        "(Kilgour, McNair and Stott 2003, Dev Med Child Neurol 45:391)",
        "reference 4 deg stretch angle, passive motion, knee straight",
        "since 02 Feb 2026: catch and range unchanged",
        "The program describes measurements.",
        "Gastrocnemius: neutral-zero; foot at right angle is 0",
    ):
        assert words in text, words
    assert "after the session" not in text


def test_record_names_the_session_with_its_amendments(tiny_chart: Chart, report: Report):
    [chain] = [each for each in tiny_chart.chains if each.amendments]
    assert report.record == chain.amendments[-1].hash[:12]
    assert [fact.words for fact in report.hashes] == [
        f"SHA-256 {chain.session.seal.hash if chain.session.seal else ''}",
        f"SHA-256 {chain.amendments[-1].hash}",
    ]
    first = report_of(tiny_chart, "2026-01-05")
    seal = tiny_chart.by_date[0].seal
    assert seal is not None
    assert first.record == seal.hash[:12]
    assert first.before == ""
    assert "nothing to compare with" in flat(rendered(first, "text"))


# Hostile text -----------------------------------------------------------------------------


def test_html_runs_and_fetches_nothing(report: Report, hostile: Report):
    calm, page = Page(rendered(report, "html")), Page(rendered(hostile, "html"))
    assert page.tags == calm.tags, "hostile text made or broke a tag"
    assert not page.unbalanced
    for one in (calm, page):
        assert one.tags.count("svg") == 3  # the body chart and two trends
        assert one.tags.count("table") >= 4
        assert not {"script", "img", "iframe", "object", "link", "a", "use"} & set(one.tags)
        for tag, name, value in one.attributes:
            assert not name.startswith("on"), (tag, name)
            assert name not in ("src", "href", "xlink:href", "style", "srcdoc", "action")
            assert "//" not in value, (tag, name, value)
    assert '<script>alert("x")</script>' in page.text
    assert "{{ 7 * 7 }}" in page.text
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", rendered(hostile, "html"))


def test_style_sheet_is_the_one_the_policy_names_and_fetches_nothing(report: Report):
    text = rendered(report, "html")
    [style] = re.findall("<style>(.*?)</style>", text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = next(value for _, name, value in Page(text).attributes if "default-src" in value)
    assert f"default-src 'none'; style-src 'sha256-{digest}';" in policy
    assert "url(" not in style
    assert "@import" not in style
    assert "@media print" in style


def test_markdown_shows_hostile_text_as_it_is(report: Report, hostile: Report):
    calm, text = rendered(report, "markdown"), rendered(hostile, "markdown")
    for pattern in (r"(?<!\\)\|", r"(?m)^#+ ", r"(?m)^\|", r"(?m)^- "):
        assert len(re.findall(pattern, text)) == len(re.findall(pattern, calm)), pattern
    for pattern in ("<[a-z/!]", r"\]\(", "http://", "`code`", r"\*bold\*"):
        assert not re.search(rf"(?<!\\){pattern}", text), pattern
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", text)


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("- item", "\\- item"),
        ("-20", "-20"),
        ("1. one", "1\\. one"),
        ("---", "\\---"),
        ("a|b", "a\\|b"),
        ("two\nlines", "two\\\\nlines"),
        ("www.example.invalid", "www\\.example.invalid"),
    ],
)
def test_markdown_escapes(given: str, kept: str):
    assert escaped(given) == kept

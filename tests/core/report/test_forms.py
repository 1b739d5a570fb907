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
from limbscribe.core.report.model import Report
from limbscribe.core.report.page import COLUMN_WORDS
from limbscribe.core.report.page_marks import body_marks
from limbscribe.core.report.page_text import LINES, page_text
from limbscribe.core.report.text import PAGE, WIDTH, further_pages
from limbscribe.core.text import width_of

from tests.support.pages import Page
from tests.support.records import MUSCLES
from tests.support.reports import CODE, flat, long, report_of

# Text -------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [0, 4, 40])
@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_full_text_keeps_to_its_pages(size: int, kind: str, request: pytest.FixtureRequest):
    report = long(request.getfixturevalue(kind), size)
    further = further_pages(report)
    assert rendered(report, "text").split("\f")[-len(further) :] == further
    for number, page in enumerate(further, 2):
        rows = page.removesuffix("\n").split("\n")
        assert page.endswith("\n")
        assert len(rows) <= PAGE
        assert max(map(width_of, rows)) <= WIDTH
        assert rows[0].startswith(f"{CODE}  01 Apr 2026  record {report.page.record} ")
        assert rows[0].endswith(f" page {number} of {len(further) + 1}")
        assert rows[3], "no page begins with an empty line"


@pytest.mark.parametrize("size", [0, 1, 4, 29, 30, 31, 80])
@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_the_page_is_one_sheet_for_thirty_stations(
    size: int, kind: str, request: pytest.FixtureRequest
):
    page = long(request.getfixturevalue(kind), size).page
    for ascii_only in (False, True):
        sheets = page_text(page, ascii_only).split("\f")
        assert len(sheets) == 1 or size > 30
        for sheet in sheets:
            rows = sheet.removesuffix("\n").split("\n")
            assert len(rows) <= LINES == 66
            assert max(map(width_of, rows)) <= WIDTH == 80
            assert not ascii_only or sheet.isascii()
        text = "".join(sheets)
        assert text.count("\n") == sum(sheet.count("\n") for sheet in sheets)
        shown_rows = [row for row in text.split("\n") if re.search(r" (Left |Right) V[23] ", row)]
        assert len(shown_rows) == size
        assert page.caution in flat(text)


def test_what_gives_way_first_is_never_a_station(report: Report):
    """Words on the columns go before any paragraph is cut, and a cut says so."""
    page = long(report, 30).page
    crowded = replace(page, beside=tuple(f"Note {n}: {'long ' * 30}." for n in range(12)))
    text = page_text(crowded)
    assert "(more in the full report)" in text
    assert COLUMN_WORDS[:20] not in text
    assert len(text.splitlines()) <= LINES
    roomy = page_text(replace(crowded, rows=page.rows[:4], beside=crowded.beside[:1]))
    assert "(more in the full report)" not in roomy
    assert COLUMN_WORDS[:20] in roomy


def test_abbreviations_of_long_names_are_told_apart_though_names_have_commas(report: Report):
    names = (("GlutMax", "Hip extensors, knee bent"), ("HipAddKB", "Hip adductors, knee bent"))
    rows = [
        replace(row, name=name, narrow=name, short=short)
        for row, (short, name) in zip(report.page.rows, names, strict=False)
    ]
    text = flat(page_text(replace(report.page, rows=tuple(rows))))
    assert "; ".join(f"{short}: {name}" for short, name in names) in text


def test_letters_stay_and_are_escapes_only_where_they_must(report: Report):
    words = "\u03a9\u043c\u0438\u0440 \u0141\u00f3d\u017a caf\u00e9 \u65e5\u672c"
    page = replace(report.page, beside=(words,))
    assert words in page_text(page)
    assert words in rendered(page, "short")
    for text in (page_text(page, ascii_only=True), rendered(page, "short", ascii_only=True)):
        assert "\\u03a9\\u043c\\u0438\\u0440" in text
        assert text.isascii()
    assert "\\u202e" in page_text(replace(page, beside=("a\u202eb",)))


def test_header_fits_with_the_longest_code_and_a_conflict(report: Report):
    page = replace(report.page, code="A" * 24, record="0123456789ab+0123456789ab")
    head = further_pages(replace(report, page=page))[0].split("\n")[0]
    assert len(head) == WIDTH
    assert "A" * 24 in head
    assert "0123456789ab" in head
    assert re.search(r"page 2 of \d$", head)


def test_stations_are_not_parted_by_pages(report: Report):
    for page in further_pages(long(report)):
        rows = page.split("\n")[3:]
        assert rows[0][:1] != " ", rows[0]


def test_short_form_has_short_lines_and_every_reading(report: Report, hostile: Report):
    for one in (report, hostile, long(report)):
        rows = rendered(one.page, "short").removesuffix("\n").split("\n")
        assert max(map(width_of, rows)) <= 120
        assert not any(re.search("[\x00-\x1f\x7f-\x9f]", row) for row in rows)
    text = flat(rendered(long(report).page, "short"))
    assert len(re.findall(r"(Left|Right) \S+/\S+/\S+ V[23]", text)) == 40
    assert "toxin day 31" in text.lower()
    assert all(change in text for change in report.page.changes)


# Every reading, and the same numbers everywhere --------------------------------------------


@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_every_reading_is_told_in_full(form: str, report: Report):
    text = rendered(report, form)
    text = Page(text).text if form == "html" else text.replace("\\-", "-")
    assert len(report.stations) == 4
    for station in report.stations:
        for words in (
            station.title,
            f"R1 {station.r1}, R2 {station.r2}, quality {station.quality}",
        ):
            assert words in flat(text)


def test_page_equals_the_json_export(tiny_chart: Chart):
    """Angles as read, gap and shortfall are those of the export, for every session."""
    exported = chart_doc(tiny_chart, MUSCLES)["sessions"]
    assert len(exported) == 3
    counted = 0
    for document in exported:
        page = report_of(tiny_chart, document["date"]).page
        given = {(r["muscle"], r["side"]): r for r in document["readings"]}
        quiet = {(row.reading.muscle, row.side.value) for row in page.quiet}
        shown = {(row.reading.muscle, row.side.value): row for row in page.rows}
        table = [row for row in Page(rendered(page, "html")).rows if len(row) >= 8]
        cells = {(row[0], row[1]): row for row in table}
        for key, reading in given.items():
            if key in quiet:
                assert reading["r1"] is None
                assert reading["shortfall"] <= 5
                continue
            if reading["r1"] is None and reading["r2"] is None:
                assert key not in shown
                continue
            found = cells[MUSCLES[key[0]].name, key[1].capitalize()]
            numbers = found[3:9] if page.compared else found[3:6]
            now = numbers[1::2] if page.compared else numbers
            gap, short = found[9:11] if page.compared else found[6:8]
            for name, cell in zip(
                ("r1", "r2", "quality", "gap", "shortfall"), (*now, gap, short), strict=True
            ):
                is_number = re.fullmatch("-?[0-9]+", cell)
                wanted = reading[name]
                if name == "gap" and wanted is not None:
                    wanted = max(0, wanted)  # R1 beyond R2: a page shows 0, the export the gap
                assert (int(cell) if is_number else None) == wanted, (name, key)
                counted += 1
    assert counted == 7 * 5


def test_counts_are_those_of_an_independent_count(tiny_chart: Chart):
    for session in tiny_chart.by_date:
        page = report_of(tiny_chart, session.when.date().isoformat()).page
        measured = [r for r in session.readings if r.r1_tries or r.r2_tries or r.r1 or r.r2]
        untested = [r for r in session.readings if r not in measured]
        assert len(page.every_row) == len(measured)
        assert page.counted.startswith(f"{len(measured)} station")
        told = flat(page_text(page))
        names = [MUSCLES[each.muscle].name for each in session.readings]
        assert all(name in told for name in names)
        assert ("Not tested:" in told) == bool(untested)
        marks = {(mark.place, mark.side): mark.sign for mark in body_marks(page)[0]}
        assert marks.keys() == {(MUSCLES[r.muscle].place, r.side) for r in session.readings}
        assert all(marks[MUSCLES[r.muscle].place, r.side] == "x" for r in untested)


def test_page_tells_what_a_reader_must_know(report: Report):
    text = flat(rendered(report.page, "text"))
    for words in (
        "Examiner EF, recorder CD.",
        "Before = session 2, 02 Feb 2026, examiner AB.",
        "Botulinum toxin 01 Mar 2026 (toxin day 31): Gastrocnemius Left.",
        "examiner: AB then, EF now",
        "Left open: Hamstrings Right.",
        "Measured before and not now: Hamstrings Right (R1 -40",
        "Not tested: Elbow flexors Left (new orthosis since Monday).",
        "Clonus: Gastrocnemius Left 3 s.",
        "Pain, 0 to 10: Gastrocnemius Left 4.",
        "Amended once, last by GH, 02 Apr 2026 12:00 UTC+02:00: misheard;",
        "Hamstrings Left: the catch is gone (was at -60, quality 2); range unchanged.",
        "The program describes measurements.",
        "Signed by CD 02 Apr 2026 12:00 UTC+02:00, record",
    ):
        assert words in text, words
    assert "after the session" not in text


def test_full_report_tells_everything_else(report: Report):
    text = flat(rendered(report, "text"))
    for words in (
        "Examiner: EF",
        "Closed and signed: CD, 02 Apr 2026 12:00 UTC+02:00",
        "tone-lowering medication: 95 min",
        "Cautions before the first fast stretch: confirmed on screen",
        "examiner: AB then, EF now (can move R1, R2, gap, quality, shortfall)",
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
        "sources: MDC of R1, MDC of R2, MDC of shortfall: S1; MDC of gap: S2",
        "S1: no figure fits in every respect",
        "(Kilgour, McNair and Stott 2003, Dev Med Child Neurol 45:391)",
        "reference 4 deg stretch angle, passive motion, knee straight",
        "since 02 Feb 2026: catch and range unchanged",
        "Gastrocnemius: neutral-zero; foot at right angle is 0",
    ):
        assert words in text, words
    assert "after the session" not in text


def test_no_source_is_told_twice(report: Report):
    text = flat(rendered(long(report), "text"))
    assert len(report.sources) >= 3
    for source in report.sources:
        assert text.count(source.line) == 1, source.line


def test_record_names_the_session_with_its_amendments(tiny_chart: Chart, report: Report):
    [chain] = [each for each in tiny_chart.chains if each.amendments]
    assert report.page.record == chain.amendments[-1].hash[:12]
    assert [fact.words for fact in report.hashes] == [
        f"SHA-256 {chain.session.seal.hash if chain.session.seal else ''}",
        f"SHA-256 {chain.amendments[-1].hash}",
    ]
    first = report_of(tiny_chart, "2026-01-05").page
    seal = tiny_chart.by_date[0].seal
    assert seal is not None
    assert first.record == seal.hash[:12]
    assert first.before == ""
    assert "nothing to compare with" in flat(rendered(first, "text"))
    assert "\n\n\n" not in rendered(first, "text"), "a line that says nothing takes one of 66"


# Hostile text -----------------------------------------------------------------------------


def test_html_runs_and_fetches_nothing(report: Report, hostile: Report):
    calm, page = Page(rendered(report, "html")), Page(rendered(hostile, "html"))
    assert page.tags == calm.tags, "hostile text made or broke a tag"
    assert not page.unbalanced
    for one in (calm, page):
        assert one.tags.count("svg") == 5  # the body chart, and two trends, small and large
        for tag in ("main", "table", "thead", "tbody"):
            assert one.tags.count(tag) == 1, tag
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

"""The raters screen: the overview, the figures of a table, and adopting them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.agreement.gather import adoptable, gather
from limbscribe.core.chart.patient import Patient
from limbscribe.core.config.settings import Settings
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.long_text import paint_long, rows_of
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.screens.raters.adopting import AdoptScreen
from limbscribe.tui.screens.raters.screen import RatersScreen
from limbscribe.tui.screens.raters.view import NO_PAIRS, entries_of, lines_of, paint_overview

from tests.support.app import desk, text_of, type_keys
from tests.support.forging import forge
from tests.support.records import MUSCLES, earlier

SIZES = [(60, 20), (80, 24), (120, 40)]


def taken(name: str, hour: int, examiner: str, r1: int, r2: int, muscle: str = "soleus"):
    """One session with one reading."""
    of = MUSCLES[muscle]
    reading = Reading(
        muscle, Side.LEFT, of.posture_words, of.scale(), r1=r1, r2=r2, quality=2,
        r1_tries=(r1,), r2_tries=(r2,),
    )  # fmt: skip
    one = earlier(name, f"2026-05-02T{hour:02}:00:00+02:00")
    conditions = replace(one.conditions, blind=examiner == "VZ")
    return replace(one, examiner=examiner, readings=(reading,), conditions=conditions)


def clinic(folder: Path, patients: int, used: bool = False):
    """A desk on a shelf with patients measured by two examiners on one day."""
    found = desk(folder / "shelf")
    settings = Settings(own_measurement_error=used)
    found = replace(found, catalogue=replace(found.catalogue, settings=settings))
    for number in range(patients):
        chart = found.shelf.create(Patient(f"RA-{number:02}"))
        one, two = -12 + 3 * number, -12 + 3 * number + (-3, 1, 4)[number % 3]
        sessions = [
            taken(f"a{number}", 9, "KM", one, one + 15),
            taken(f"b{number}", 10, "VZ", two, two + 17),
        ]
        found.shelf.add_closed(chart, sessions, "JT", "2026-05-02T11:00:00+02:00")
    return found


@pytest.fixture
def made(tmp_path: Path):
    """Five patients: too few to be adopted just so."""
    return clinic(tmp_path, 5)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the clinic's own figures are written."""
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "config" / "config.toml"))
    return tmp_path / "config" / "measurement_error.toml"


def gathered(made):
    return gather([made.shelf.load(entry.id) for entry in made.shelf.charts()], tuple(MUSCLES))


def shown(app: LimbscribeApp) -> str:
    """What the screen in front paints, on one line."""
    screen = app.screen
    assert isinstance(screen, RatersScreen | AdoptScreen)
    return " ".join(" ".join(text_of(screen.paint(80, 24))).split())


@pytest.mark.parametrize("size", SIZES)
def test_every_window_is_filled_and_no_more(made, size):
    found = gathered(made)
    entries = entries_of(found, MUSCLES)
    for at in range(len(entries)):
        for rows in (
            paint_overview(entries, at, *size),
            paint_long("title", rows_of(lines_of(found, at, True), size[0]), 0, *size),
        ):
            assert len(rows) <= size[1]
            assert all(width_of(row) <= size[0] for row in rows)
        assert any(text.startswith(">") for text in text_of(paint_overview(entries, at, *size)))


def test_the_overview_has_a_heading_and_a_row_for_each_quantity(made):
    text = text_of(paint_overview(entries_of(gathered(made), MUSCLES), 0, 80, 24))
    assert text[1].split()[:3] == ["pairs", "blind", "mean"]
    assert text[2] == "Soleus, V3: different raters on one day"
    assert [line.split()[:3] for line in text[3:7]] == [
        [">", "R1", "5"],
        ["R2", "5", "5"],
        ["gap", "5", "5"],
        ["quality", "5", "5"],
    ]
    assert all("too few" in line for line in text[3:7])
    assert "Last digits of each examiner" in text[8]


def test_figures_name_their_form_and_list_the_pairs_with_blind_ones_marked(made):
    words = "\n".join(lines_of(gathered(made), 0, variances=False))
    for form in ("ICC(A,1)", "ICC(C,1)", "agreement", "consistency", "MDC95", "exact, each"):
        assert form in words
    assert "In words: from too few pairs, the ratings of a pair differ by about" in words
    assert "too few: 5 pairs" in words
    assert "RA-00 Left 2026-05-02: KM 09:00: -12, VZ 10:00 blind: -15" in words
    assert "Analysis of variance" not in words
    assert "Analysis of variance" in "\n".join(lines_of(gathered(made), 0, variances=True))


def test_an_empty_shelf_says_what_a_pair_is():
    text = " ".join(text_of(paint_overview(entries_of(gather([], ()), MUSCLES), 0, 80, 24)))
    assert NO_PAIRS[:40] in " ".join(text.split())


async def test_keys_open_scroll_and_go_back(made):
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        await type_keys(pilot, "'r")
        assert isinstance(app.screen, RatersScreen)
        assert "Enter figures" in shown(app)
        await type_keys(pilot, "'v")
        assert "it is among the figures of a table" in shown(app)
        await type_keys(pilot, "down", "enter")
        assert "Soleus, R2 (deg): different raters on one day" in shown(app)
        await type_keys(pilot, "'v")
        assert "Analysis of variance" in shown(app)
        for _ in range(30):
            await type_keys(pilot, "pagedown")
        assert "RA-04 Left 2026-05-02" in shown(app)
        last = shown(app)
        await type_keys(pilot, "down")
        assert shown(app) == last
        await type_keys(pilot, "right")
        assert "Soleus, gap at V3 (deg)" in shown(app)
        await type_keys(pilot, "'q")
        assert "> gap" in shown(app)
        await type_keys(pilot, "'glast", "enter", "'a")
        assert "only a table of angles of a known muscle group can be adopted" in shown(app)
        await type_keys(pilot, "'q")
        assert not isinstance(app.screen, RatersScreen)


async def test_few_pairs_are_adopted_only_when_typed_out(made, own):
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        await type_keys(pilot, "'r")
        await type_keys(pilot, "'a")
        assert "too few: 5 pairs" in shown(app)
        assert "Comparisons do not use it: own_measurement_error is false" in shown(app)
        await type_keys(pilot, "enter")
        await type_keys(pilot, "'5", "enter")
        await type_keys(pilot, "backspace", "'six pairs", "enter")
        assert "nothing was adopted: type five pairs" in shown(app)
        assert not own.exists()
        await type_keys(pilot, "ctrl+u", "'Five  pairs", "enter")
        assert "1 measurement error written to" in shown(app)
        assert 'muscles = ["soleus"]' in own.read_text()
        await type_keys(pilot, "enter")
        assert isinstance(app.screen, RatersScreen)
        assert "adopted" in app.screen.message


async def test_leaving_adopts_nothing(made, own):
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        await type_keys(pilot, "'r")
        await type_keys(pilot, "'a")
        await type_keys(pilot, "'five pairs", "escape")
        assert isinstance(app.screen, RatersScreen)
        assert app.screen.message == "nothing was adopted, and no file was changed"
        assert not own.exists()


async def test_ten_pairs_are_adopted_with_enter_and_used_at_once(tmp_path, own):
    made = clinic(tmp_path, 10, used=True)
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        await type_keys(pilot, "'r")
        await type_keys(pilot, "'a")
        before = shown(app)
        assert "too few: 10 pairs" in before
        assert "type it out" not in before
        assert "Comparisons of soleus R1 by different raters on one day use the new" in before
        place = "in place of MDC95 17.4 deg (leg, one week apart)"
        assert place in before
        await type_keys(pilot, "enter")
        assert place in shown(app)
        first = own.read_text()
        await type_keys(pilot, "escape", "'a")
        assert "in place of MDC95" in shown(app)
        assert "(own study (too few: 10 pairs), Soleus, R1" in shown(app)
        await type_keys(pilot, "enter", "enter")
        kept = list(own.parent.glob("measurement_error.until-*.toml"))
        assert [path.read_text() for path in kept] == [first]
        await type_keys(pilot, "'q")
        errors = app.screen.context.catalogue.own_errors
        assert [error.muscles for error in errors] == [("soleus",), ("soleus",)]


async def test_a_faulty_own_file_is_said_and_left_as_it_is(tmp_path, own):
    own.parent.mkdir()
    own.write_text("[[error]]\nnmae = 'x'\n")
    app = LimbscribeApp(clinic(tmp_path, 10))
    async with app.run_test() as pilot:
        await type_keys(pilot, "'r")
        await type_keys(pilot, "'a")
        await type_keys(pilot, "enter")
        assert "Nothing was adopted. " in shown(app)
        assert own.read_text() == "[[error]]\nnmae = 'x'\n"


@pytest.mark.parametrize("size", SIZES)
def test_the_question_is_always_in_sight(tmp_path, size):
    made = clinic(tmp_path, 5, used=True)
    found = gathered(made)
    study, of = adoptable(found.studies[:1], MUSCLES)[0]
    screen = AdoptScreen(made, "Soleus, R1 at V3 (deg): different raters on one day", study, of)
    rows = screen.paint(*size)
    text = " ".join(text_of(rows))
    assert len(rows) == size[1]
    assert "five pairs" in " ".join(text.split())
    assert "type it out: _" in text


async def test_a_forged_session_leaves_the_others_in_the_figures(tmp_path: Path):
    context = clinic(tmp_path, 3)
    path = min((context.shelf.folder / "charts").glob("*.json"))
    forge(path, lambda body: body["readings"][0].update(r1="twelve"))
    app = LimbscribeApp(context)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "r")
        assert isinstance(app.screen, RatersScreen)
        assert app.screen.names()[0].startswith("Soleus")

"""``limbscribe agreement`` on a command line."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from limbscribe.core.agreement.across_days import MOST_DAYS
from limbscribe.core.agreement.few import ADOPTED, ENOUGH
from limbscribe.core.agreement.icc import FORMS
from limbscribe.core.config.error_file import parse_errors
from scipy.stats import nct
from statsmodels.stats.weightstats import DescrStatsW

from tests.support.csv_rows import file_of, line
from tests.support.ratings import A_FIRST, B_FIRST, SHROUT_FLEISS, csv_of
from tests.support.run import Run

STABLE = {
    "n_targets",
    "n_raters",
    "icc",
    "sem_agreement",
    "sem_consistency",
    "mdc95_agreement",
    "mdc95_consistency",
}
OF_TWO = {"bias", "sd_difference", "loa_low", "loa_high"}
PAIRS = ["95", "of", "100", "pairs"]
KAPPAS = {"kappa", "kappa_linear", "kappa_quadratic"}
OWN = Path("config/measurement_error.toml")


@pytest.fixture
def files(tmp_path: Path) -> None:
    del tmp_path  # the tests run in it
    Path("four.csv").write_bytes(csv_of(SHROUT_FLEISS))
    Path("two.csv").write_bytes(csv_of(list(zip(A_FIRST, B_FIRST, strict=True))))
    Path("grades.csv").write_bytes(csv_of([[0, 1], [2, 2], [2, 3], [4, 4], [1, 1], [3, 2]]))


@pytest.mark.usefixtures("files")
def test_json_has_the_agreed_keys(run: Run) -> None:
    ran = run("agreement", "four.csv", "--json")
    document = json.loads(ran.out)
    assert ran.code == 0
    assert set(document) >= STABLE
    assert not set(document) & (OF_TWO | KAPPAS)
    assert list(document["icc"]) == list(FORMS)
    assert all(set(one) == {"value", "low", "high"} for one in document["icc"].values())
    assert (document["n_targets"], document["n_raters"]) == (6, 4)
    assert document["mdc95_agreement"] == pytest.approx(6.937342, abs=5e-7)
    assert document["icc"]["ICC(A,1)"]["high"] == pytest.approx(0.761084, abs=5e-7)
    assert document["anova"]["residual"]["df"] == 15


@pytest.mark.usefixtures("files")
def test_json_of_two_raters(run: Run) -> None:
    document = json.loads(run("agreement", "two.csv", "--json").out)
    assert set(document) >= STABLE | OF_TWO
    theirs = DescrStatsW(np.subtract(A_FIRST, B_FIRST), ddof=1)
    assert document["loa_low"] == pytest.approx(theirs.mean - 1.96 * theirs.std, abs=5e-5)
    assert document["loa_high"] == pytest.approx(theirs.mean + 1.96 * theirs.std, abs=5e-5)
    assert document["loa_multiplier"] == 1.96
    factors = nct.ppf((0.025, 0.975), 15, 1.96 * 4) / 4
    near, far = theirs.mean + factors * theirs.std
    assert document["loa_high_exact"] == pytest.approx([near, far], rel=1e-6)
    assert document["loa_high_exact_pair"][1] < document["loa_high_exact"][1]
    assert (document["n_rated_twice"], document["too_few"]) == (16, True)
    assert [one["rater"] for one in document["digits"]] == ["A", "B"]


@pytest.mark.usefixtures("files")
def test_json_of_grades(run: Run) -> None:
    document = json.loads(run("agreement", "grades.csv", "--ordinal", "0-4", "--json").out)
    assert set(document) >= STABLE | OF_TWO | KAPPAS | {f"{name}_se" for name in KAPPAS}
    assert 0 < document["kappa"] < document["kappa_linear"] < document["kappa_quadratic"] < 1
    assert document["kappa_se"] > 0
    assert document["categories"] == [0, 1, 2, 3, 4]
    assert document["exact_agreement"] == 0.5


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize(
    "argv", [("four.csv",), ("two.csv",), ("grades.csv", "--ordinal", "0-4")], ids=" ".join
)
def test_text_fits_80_columns_and_names_every_form(run: Run, argv: tuple[str, ...]) -> None:
    ran = run("agreement", *argv)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= 80
    for words in (*FORMS, "SEM agreement", "SEM consistency", "MDC90", "MDC95"):
        assert words in ran.out
    assert "Analysis of variance" not in ran.out
    if "--ordinal" in argv:
        for words in ("unweighted", "Cicchetti-Allison", "Fleiss-Cohen", "grades 0 to 4"):
            assert words in ran.out


@pytest.mark.usefixtures("files")
def test_text_of_two_raters_has_both_plots(run: Run) -> None:
    out = run("agreement", "two.csv", "--ascii").out
    assert "Each target: A across, B up" in out
    assert "lines: bias and limits" in out
    assert "limit, 1.96 SD" in out
    assert "exact, each" in out
    assert out.isascii()


@pytest.mark.usefixtures("files")
def test_a_file_begins_with_its_row_of_the_overview(run: Run) -> None:
    out = run("agreement", "two.csv").out
    lines = out.splitlines()
    assert lines[2].split() == ["pairs", "blind", "mean", *["95", "%", "limits", "kappa"], *PAIRS]
    assert lines[3] == (
        "  ratings     16          -1.2     -11.5 to 9.0         too few; within 11"
    )
    sentence = "the ratings of a pair differ by about 11 or less in 95 of 100 pairs"
    assert f"In words: from too few pairs, {sentence}" in " ".join(out.split())


@pytest.mark.usefixtures("files")
def test_the_analysis_of_variance_comes_with_full(run: Run) -> None:
    ran = run("agreement", "four.csv", "--full")
    assert "Analysis of variance" in ran.out
    assert "residual (two-way)" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80


def test_figures_that_are_none_are_null_and_exit_1(run: Run) -> None:
    Path("one.csv").write_bytes(csv_of([[5, 6]]))
    ran = run("agreement", "one.csv", "--json")
    document = json.loads(ran.out)
    assert ran.code == 1
    assert document["icc"]["ICC(A,1)"] == {"value": None, "low": None, "high": None}
    assert document["sem_agreement"] is None
    assert document["bias"] is None
    assert "fewer than 2 targets" in document["undefined"]["ICC(A,1)"]
    text = run("agreement", "one.csv")
    assert text.code == 1
    assert "No ICC and no measurement error: fewer than 2 targets" in text.out


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize(
    ("argv", "code", "words"),
    [
        (("missing.csv",), 2, "cannot be read"),
        (("four.csv", "--ordinal", "4"), 2, "as in 0-4"),
        (("four.csv", "--ordinal", "0-4"), 1, "9 by A for T1 is not a grade of the list 0-4"),
        (("four.csv", "--pairs"), 2, "on the shelf"),
        (("four.csv", "--adopt"), 2, "say what they are of"),
        (("four.csv", "--muscle", "soleus"), 2, "a file has no muscle groups"),
        (("four.csv", "--interval", "same-day"), 2, "a file has no muscle groups"),
        (("--interval", "same-day"), 2, "--interval goes with a file"),
        (("--instrument", "visual"), 2, "--instrument goes with a file"),
        (("--few", "six"), 2, "--few goes with --adopt"),
        (("--adopt", "--few", "6"), 2, "a number in words, as in --few six"),
        (("--adopt", "--few", "ten"), 2, "a number in words"),
        (("--ordinal", "0-4"), 2, "goes with a file"),
        ((), 2, "there is no shelf"),
    ],
)
def test_misuse_is_told(run: Run, argv: tuple[str, ...], code: int, words: str) -> None:
    ran = run("agreement", *argv)
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err


def test_a_bad_file_is_told_line_by_line(run: Run) -> None:
    Path("bad.csv").write_text("target,rater,value\nx,A,1\nx,A,2\ny,\x1b]0;evil\x07,many\n")
    ran = run("agreement", "bad.csv")
    assert (ran.code, ran.out) == (1, "")
    assert "bad.csv line 3" in ran.err
    assert "bad.csv line 4" in ran.err
    assert "nothing was computed" in ran.err
    assert "\x1b" not in ran.err


def test_hostile_names_cannot_steer_the_terminal(run: Run) -> None:
    names = ("A\x1b[2J", "B\u202e")
    rows = [f"t\x07{t},{name},{t * 2 + at}" for t in range(4) for at, name in enumerate(names)]
    Path("evil.csv").write_text("\n".join(["target,rater,value", *rows, "u,B\u202e,1"]))
    ran = run("agreement", "evil.csv")
    assert ran.code == 0
    assert {char for char in ran.out if not char.isprintable()} == {"\n"}


@pytest.fixture
def shelf(run: Run) -> Run:
    """A shelf with five patients seen by AB and CD on one day, one of them by AB twice."""
    made: list[str] = []
    for number in range(5):
        r2 = -50 + 7 * number
        made += [
            line(
                patient=f"P-1{number}",
                examiner=who,
                time=time,
                r1=str(r2 - 20 + more),
                r2=str(r2 + more),
            )
            for who, time, more in (("AB", "09:00", 0), ("CD", "10:00", number % 3 + 1))
        ]
    made.append(line(patient="P-10", examiner="AB", time="11:00", r1="-69", r2="-48"))
    Path("a.csv").write_bytes(file_of(*made))
    assert run("import", "a.csv").code == 0
    return run


def test_shelf_per_muscle_and_quantity(shelf: Run) -> None:
    ran = shelf("agreement", "--json")
    document = json.loads(ran.out)
    assert ran.code == 0
    assert [(t["rater"], t["quantity"], t["n_targets"]) for t in document["tables"]] == [
        *(("different", quantity, 5) for quantity in ("R1", "R2", "gap", "quality")),
        *(("same", quantity, 1) for quantity in ("R1", "R2", "gap", "quality")),
    ]
    r2 = document["tables"][1]
    assert r2["raters"] == ["AB", "CD"]
    assert r2["in_words"].startswith("from too few pairs, the ratings of a pair differ by about")
    assert r2["bias"] == pytest.approx(-9 / 5)
    assert len(document["pairs"]) == 6
    assert document["pairs"][0]["interval"] == r2["interval"] == "same-day"
    assert document["pairs"][0]["takes"] == [
        {"examiner": "AB", "time": "09:00"},
        {"examiner": "CD", "time": "10:00"},
    ]
    quality = document["tables"][3]
    assert quality["kappa"] is None
    assert "same category" in quality["undefined"]["kappa"]


def test_shelf_as_text_lists_its_pairs(shelf: Run) -> None:
    ran = shelf("agreement", "--pairs", "--muscle", "hamstrings")
    assert ran.code == 0
    assert "P-10 Left 2026-03-02 hamstrings V3: AB 09:00, CD 10:00 (different" in ran.out
    assert "Hamstrings, R2 (deg): different raters on one day" in ran.out
    assert "Readings ending in 0 or 5" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 80


def test_shelf_shows_the_overview_and_no_more_unless_asked(shelf: Run) -> None:
    overview = shelf("agreement").out
    assert "Hamstrings, V3: different raters on one day" in overview
    assert "  R2           5     0    -1.8" in overview
    assert "--muscle ID has every figure" in overview
    assert "SEM" not in overview
    assert max(map(len, overview.splitlines())) <= 80
    figures = shelf("agreement", "--muscle", "hamstrings").out
    assert "SEM agreement" in figures
    assert "Analysis of variance" not in figures
    full = shelf("agreement", "--full").out
    assert "Analysis of variance" in full
    assert "Note: too few: 5 pairs, fewer than 20" in " ".join(full.split())


def test_pairs_of_different_days_are_tables_of_their_own(shelf: Run) -> None:
    later = [
        line(patient=f"P-1{number}", date="2026-03-30", examiner="CD", r1="-70", r2="-41")
        for number in range(3)
    ]
    Path("later.csv").write_bytes(file_of(*later))
    assert shelf("import", "later.csv").code == 0
    ran = shelf("agreement", "--json")
    document = json.loads(ran.out)
    found = [(t["rater"], t["interval"], t["n_pairs"]) for t in document["tables"][::4]]
    assert found == [
        ("different", "same-day", 5),
        ("different", "different-days", 3),
        ("same", "same-day", 1),
        ("same", "different-days", 3),
    ]
    days = next(pair for pair in document["pairs"] if pair["interval"] == "different-days")
    assert [take["date"] for take in days["takes"]] == ["2026-03-02", "2026-03-30"]
    Path("e.csv").write_text("patient,date,kind,muscle,side,note\nP-10,2026-03-10,orthosis,,,\n")
    assert shelf("events", "--import", "e.csv").code == 0
    ran = shelf("agreement", "--pairs", "--muscle", "hamstrings")
    assert "P-11 Left 2026-03-02 CD hamstrings V3: CD 02 Mar 2026, CD 30 Mar 2026" in ran.out
    assert "P-10 Left 2026-03-02 CD" not in ran.out
    assert "1 time two days of a station were left out as a pair: a treatment date" in ran.err


def test_help_has_the_limits(run: Run) -> None:
    words = " ".join(run("agreement", "--help").out.split())
    assert f"at most {MOST_DAYS} days apart" in words
    assert f"Fewer than {ENOUGH} pairs are called too few" in words
    assert f"fewer than {ADOPTED} is adopted only" in words


def test_shelf_without_pairs_says_what_one_is(shelf: Run) -> None:
    ran = shelf("agreement", "--muscle", "soleus")
    assert ran.code == 0
    assert "no pairs: the same station of one patient" in ran.err
    assert shelf("agreement", "--muscle", "nonsense").code == 2


@pytest.mark.parametrize("few", [(), ("--few", "six")], ids=" ".join)
def test_few_pairs_are_not_adopted_unless_typed_out(shelf: Run, few: tuple[str, ...]) -> None:
    ran = shelf("agreement", "--adopt", *few)
    assert ran.code == 1
    assert (
        "hamstrings, R1, different raters on one day: not adopted: 5 pairs, fewer than 10 "
        "(--few five adopts it all the same)"
    ) in ran.err
    assert "no file was changed" in ran.err
    assert not OWN.exists()


@pytest.mark.parametrize("used", [False, True])
def test_what_comparisons_make_of_it_is_said(shelf: Run, used: bool) -> None:
    OWN.parent.mkdir(exist_ok=True)
    if used:
        OWN.with_name("config.toml").write_text("own_measurement_error = true\n")
    ran = shelf("agreement", "--adopt", "--few", "five")
    off = "Comparisons do not use it: own_measurement_error is false"
    on = "Comparisons of hamstrings R2 by different raters on one day use the new MDC95"
    assert ((off in ran.err), (on in ran.err)) == (not used, used)
    assert ran.err.count("Comparisons of") == (4 if used else 0), "two for R1 and for R2"


def test_adopted_figures_are_read_back_and_the_old_file_is_kept(shelf: Run) -> None:
    first = shelf("agreement", "--adopt", "--few", "five", "--json")
    tables = json.loads(first.out)["tables"]
    assert first.code == 1, "a single repeat has no SEM, which is told"
    assert (
        "hamstrings, R1, repeats by the same examiner on one day: not adopted: fewer than 2"
    ) in first.err
    found = parse_errors(OWN.read_text(), OWN.name, own=True, muscles=("hamstrings",))
    assert isinstance(found, tuple), found
    assert [(e.quantities, e.raters, e.interval) for e in found] == [
        ((quantity,), "different", "same-day") for quantity in ("R1", "R2", "gap")
    ][: len(found)]
    assert found[1].sem == pytest.approx(tables[1]["sem_agreement"], abs=5e-4)
    assert "5 targets" in found[1].source
    assert "sha256" in found[1].source
    assert "agreement form" in found[1].verified
    assert OWN.stat().st_mode & 0o777 == 0o600
    before = OWN.read_bytes()
    Path("two.csv").write_bytes(csv_of([[n, n + n % 3] for n in range(10)]))
    again = shelf(
        "agreement",
        "two.csv",
        "--adopt",
        "--muscle",
        "soleus",
        "--quantity",
        "R2",
        "--raters",
        "same",
        "--interval",
        "different-days",
        "--instrument",
        "goniometer",
        "--json",
    )
    assert again.code == 0, "ten pairs need no more words"
    (kept,) = OWN.parent.glob("measurement_error.until-*.toml")
    assert kept.read_bytes() == before
    assert str(kept) in again.err
    now = parse_errors(OWN.read_text(), OWN.name, own=True)
    assert isinstance(now, tuple)
    assert now[0].muscles == ("soleus",)
    assert (now[0].interval, now[0].instrument) == ("different-days", "goniometer")
    assert now[0].name.startswith("own study (too few: 10 pairs), Soleus, R2")
    assert now[1:] == found, "the old entries stand below, word for word"


def test_a_faulty_own_file_is_left_as_it_is(shelf: Run) -> None:
    OWN.parent.mkdir(exist_ok=True)
    OWN.write_text("[[error]]\nnmae = 'x'\n")
    ran = shelf("agreement", "--adopt", "--few", "five")
    assert ran.code == 1
    assert "fix this file first; nothing was adopted" in ran.err
    assert OWN.read_text() == "[[error]]\nnmae = 'x'\n"
    assert list(OWN.parent.glob("*until*")) == []


def test_plotext_comes_with_the_drawing_only_and_no_numeric_library_at_all(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_bytes(csv_of([[1, 2], [3, 5], [4, 4]]))
    loads = (
        "import sys; from limbscribe.tui.__main__ import main; main(sys.argv[1:]);"
        "heavy = ('numpy', 'scipy', 'textual', 'rich', 'plotext');"
        "print([m for m in heavy if m in sys.modules])"
    )
    env = {**os.environ, "LIMBSCRIBE_SHELF": str(tmp_path)}
    for argv, loaded in (
        (("agreement", "--help"), "[]"),
        (("verify",), "[]"),
        (("agreement", "r.csv", "--json"), "[]"),
        (("agreement", "r.csv"), "['plotext']"),
    ):
        ran = subprocess.run(
            [sys.executable, "-c", loads, *argv],
            capture_output=True,
            text=True,
            check=True,
            cwd=tmp_path,
            env=env,
        )
        assert ran.stdout.splitlines()[-1] == loaded, argv

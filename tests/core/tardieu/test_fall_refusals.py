"""What is refused, on both sides of each boundary; and the command line."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.fall import Fall, fall, fall_of_muscle
from limbscribe.tui.__main__ import main


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        (180, 0, "balances upright"),
        (180.01, 0, "nothing falls from 180.01"),
        (270, 90, "nothing falls from 270"),
        (0, -10, "nothing falls from 0"),
        (-30, -60, "nothing falls from -30"),
        (90, 90, "start and end are equal"),
        (90, 90.01, "nothing falls"),
        (30, 60, "from 30 deg up to 60 deg nothing falls"),
        (60, -60, "comes to rest"),
        (60, -61, "comes to rest"),
        (90, 89.9995, "too small"),
        (float("nan"), 0, "must be numbers"),
        (90, float("-inf"), "must be numbers"),
    ],
)
def test_impossible_arcs(start, end, words):
    found = fall("hand", "winter", start, end, height_m=1.7)
    assert isinstance(found, Problem)
    assert words in found.what
    assert found.mend


@pytest.mark.parametrize(
    ("start", "end"),
    [(179.99, 0), (0.01, 0), (0.01, -0.005), (90, 89.99), (60, -59.99), (60, 0)],
)
def test_possible_arcs_beside_them(start, end):
    assert isinstance(fall("hand", "winter", start, end, height_m=1.7), Fall)


@pytest.mark.parametrize(
    ("height", "taken"),
    [(0.29, False), (0.3, True), (2.5, True), (2.51, False), (170, False), (-1.7, False)],
)
def test_heights(height, taken):
    found = fall("hand", "winter", 90, 0, height_m=height)
    assert isinstance(found, Fall) is taken
    if not taken:
        assert "not a body height" in str(found)


@pytest.mark.parametrize(
    ("length", "taken"), [(0.073, False), (0.074, True), (0.615, True), (0.616, False), (42, False)]
)
def test_lengths(length, taken):
    """A leg of 0.246 of the height: between those of the smallest and the tallest person."""
    found = fall("leg-foot", "winter", 90, 0, length_m=length)
    assert isinstance(found, Fall) is taken
    if not taken:
        assert "knee to medial malleolus" in str(found)


def test_one_length_is_needed_and_names_must_be_known():
    neither, both = (
        fall("hand", "winter", 90, 0),
        fall("hand", "winter", 90, 0, height_m=1.7, length_m=0.08),
    )
    assert "give one of them" in str(neither)
    assert "give one of them" in str(both)
    assert "leg-foot" in str(fall("wing", "winter", 90, 0, height_m=1.7))
    assert "deleva-male" in str(fall("hand", "other", 90, 0, height_m=1.7))


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        (0, 90, "joint at 0"),
        (90, 10, "up to 170 deg (joint at 10)"),
        (-5, 90, "nothing falls from 185 deg (joint at -5)"),
    ],
)
def test_refusals_name_the_joint_angle(start, end, words):
    """A straight knee is the unstable top."""
    assert words in str(fall_of_muscle("knee-extensors", "winter", start, end, height_m=1.7))
    nearly = fall_of_muscle("knee-extensors", "winter", 1, 90, height_m=1.7)
    assert isinstance(nearly, Fall)


# The command line -------------------------------------------------------------------------


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    code = main(["fall", *argv])
    out, err = capsys.readouterr()
    return code, out, err


LEG = ("--segment", "leg-foot", "--height", "1.70", "--from", "90", "--to", "0")


def test_json(capfd):
    code, out, err = run(capfd, *LEG, "--json")
    found = json.loads(out)
    assert (code, err) == (0, "")
    assert found["w0_rad_s"] == pytest.approx(5.130, abs=6e-4)
    assert found["time_s"] == pytest.approx(0.361, abs=6e-4)
    assert found["end_speed_deg_s"] == pytest.approx(416, abs=0.6)
    assert found["mean_speed_deg_s"] == pytest.approx(249, abs=0.6)
    assert found["segment"] == "leg-foot"
    assert found["length_m"] == pytest.approx(0.4182)
    assert "Winter" in found["source"]
    assert found["joint"] is None


def test_no_screen_is_loaded():
    code = (
        "import sys; from limbscribe.tui.__main__ import main; main(sys.argv[1:]);"
        "print([m for m in ('textual', 'rich', 'plotext') if m in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, "fall", *LEG],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert ran.stdout.splitlines()[-1] == "[]", ran.stderr


def test_text_says_what_it_is(capfd):
    code, out, _ = run(capfd, *LEG)
    words = " ".join(out.split())
    assert code == 0
    for part in ("416 deg/s", "249 deg/s", "0.361 s", "upper bound", "not for children", "Winter"):
        assert part in words
    assert max(map(len, out.splitlines())) <= 80


def test_joint_angles_of_a_muscle(capfd):
    code, out, _ = run(
        capfd, "--muscle", "elbow-flexors", "--height", "1.7", "--from", "-130", "--to", "-30",
        "--json",
    )  # fmt: skip
    found = json.loads(out)
    assert code == 0
    assert (found["segment"], found["from_deg"], found["to_deg"]) == ("forearm-hand", 130, 30)
    assert found["joint"] == {"muscle": "elbow-flexors", "from_deg": -130, "to_deg": -30}
    assert found["time_s"] == pytest.approx(0.321, abs=6e-4)


def test_table_and_measured_length(capfd):
    one = json.loads(run(capfd, *LEG[:2], "--length", "0.40", *LEG[4:], "--json")[1])
    two = json.loads(run(capfd, *LEG, "--table", "deleva-female", "--json")[1])
    assert (one["length_m"], one["length_from"]) == (0.4, "measured")
    assert "female" in two["source"]
    assert two["w0_rad_s"] != pytest.approx(5.130, abs=6e-3)


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        ((*LEG[:4], "--from", "180", "--to", "0"), "balances upright"),
        ((*LEG[:4], "--from", "30", "--to", "60"), "nothing falls"),
        ((*LEG[:2], "--height", "170", *LEG[4:]), "not a body height"),
        ((*LEG[:2], *LEG[4:]), "give one of them"),
        ((*LEG, "--length", "0.4"), "give one of them"),
        (LEG[2:], "--segment NAME"),
        (("--segment", "wing", *LEG[2:]), "'wing' is unknown"),
        (("--muscle", "soleus", *LEG[2:]), "no falling segment"),
        (("--muscle", "knee-extensors", "--segment", "hand", *LEG[2:]), "leave out --segment"),
        ((*LEG[:4], "--from", "nan", "--to", "0"), "not a number"),
        ((*LEG[:4], "--from", "9_0", "--to", "0"), "not a number"),
        ((*LEG, "--table", "other"), "invalid choice"),
        (LEG[:4], "--from"),
    ],
)
def test_used_wrongly(capfd, argv, words):
    code, out, err = run(capfd, *argv)
    assert (code, out) == (2, "")
    assert words in err
    assert "Traceback" not in err

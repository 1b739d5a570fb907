"""The simulation of slips: what is typed, what counts, and that the checks do tell slips."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.chart.checklist import shipped_checklists
from limbscribe.core.entry.deck import drill_plan
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.demo import speed, typing_slips
from limbscribe.demo.bench_keystrokes import confirmed, prompt_keys, typed_session
from limbscribe.demo.clinic import demo_keys
from limbscribe.demo.typing_slips import KINDS, Said, Typed, coarse, overall, simulate, slips_of


@pytest.mark.parametrize(
    ("text", "kind", "slips"),
    [
        ("45", "doubled", ["445", "455"]),
        ("45", "dropped", ["5", "4"]),
        ("-45", "transposed", ["-54"]),
        ("33", "transposed", []),
        ("10", "row", ["20", "19"]),
        ("0", "pad", ["1", "2"]),
        ("45", "sign", ["-45"]),
        ("-45", "sign", ["45"]),
        ("0", "sign", []),
        ("", "doubled", []),
    ],
)
def test_slips(text, kind, slips):
    assert list(slips_of(text, kind)) == slips


@given(st.integers(-180, 180), st.sampled_from(KINDS[:-1]))
def test_one_slip_changes_one_thing(value, kind):
    text = str(value)
    for slip in slips_of(text, kind):
        longer = {"doubled": 1, "dropped": -1, "sign": -1 if value < 0 else 1}.get(kind, 0)
        assert len(slip) == len(text) + longer
        assert slip.lstrip("-").isdigit() or slip.strip("-") == ""


def test_the_keys_of_a_station_with_two_tries():
    one = Typed(("-45", ""), "2", ("10", "-8"))
    assert "".join(key if len(key) == 1 else "." for key in one.keys(presign=False)) == (
        "-45..210.-8."
    )
    assert "".join(key if len(key) == 1 else "." for key in one.keys(presign=True)) == (
        "45..2+10.8."
    )
    slips = [(meant, slip) for meant, slip, _ in one.with_slip("dropped")]
    assert slips == [("-45", "-5"), ("-45", "-4"), ("10", "0"), ("10", "1"), ("-8", "-")]
    changed = [typed for _, _, typed in one.with_slip("transposed")]
    assert changed == [
        Typed(("-54", ""), "2", ("10", "-8")),
        Typed(("-45", ""), "2", ("01", "-8")),
    ]


def test_two_tries_tell_more_slips_than_one():
    """Three sessions, seeded: the figures are those of a run, the bounds leave room for others."""
    once, twice = simulate(3, 3), simulate(3, 3, tries=2)
    assert 0.6 < overall(once, True) < overall(twice, True)
    assert twice.values > 1.8 * once.values
    assert "tries-apart" not in once.rules
    assert once.alarms / once.values < 0.03
    assert overall(once, False) < 0.3, "no check can know these"


def test_what_is_asked_about_can_be_set():
    near, far = simulate(2, 5, change=12), simulate(2, 5, change=60)
    assert near.alarms > far.alarms
    assert overall(near, True) > overall(far, True)


def test_reading_back_costs_one_key_for_every_station_that_was_tested():
    keys = demo_keys()
    plain, _, _ = typed_session(keys)
    state, count = confirmed(keys)
    assert count == sum(not draft.not_tested for draft in plain.drafts) == 23
    assert state.open_stations == ()
    assert [(d.r1, d.quality, d.r2) for d in state.drafts] == [
        (d.r1, d.quality, d.r2) for d in plain.drafts
    ]


def test_what_the_keys_beyond_the_floor_are_for():
    """The comment has 36 characters; pain and clonus a digit each, and two keys around each."""
    found = prompt_keys(demo_keys())
    assert found == {
        "words of comments": 36,
        "digits of pain and clonus": 2,
        "opening and ending": 6,
    }


def test_readings_to_a_step_tell_more_slips_and_stay_inside_the_joint():
    muscles = shipped_muscles()
    station = drill_plan(shipped_checklists(muscles), muscles, 2026).stations[0]
    ends = sorted(map(station.scale.typed, (station.muscle.low, station.muscle.high)))
    for value in range(ends[0], ends[1] + 1):
        read = coarse(station, Said((None, value), 2, (value,)), 5)
        assert read.r1[0] is None
        assert read.r1[1] == read.r2[0]
        assert read.r2[0] % 5 == 0
        assert ends[0] <= read.r2[0] <= ends[1]
        assert abs(read.r2[0] - value) <= 5
    fine, rough = simulate(2, 3), simulate(2, 3, reading_step=5)
    near = rough.share("row", beyond=False)
    assert near is not None
    assert near > 0.9, "a neighbouring unit is no multiple of five"
    assert overall(rough, True, False) > overall(fine, True, False)


@pytest.mark.parametrize("script", [speed, typing_slips])
@pytest.mark.parametrize("given", ["--help", "ten"])
def test_a_script_says_what_it_takes(monkeypatch, script, given):
    monkeypatch.setattr("sys.argv", ["script", given])
    with pytest.raises(SystemExit, match=rf"usage: python -m {script.__name__} \[SESSIONS"):
        script.main()

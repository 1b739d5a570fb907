"""Look-alike codes: where they begin and end, and a thousand mistyped codes."""

from __future__ import annotations

import string
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.chart.lookalike import (
    ending,
    look_alike,
    lookalikes_among,
    lookalikes_of,
    retyped,
)
from limbscribe.core.chart.patient import Patient, parse_code
from limbscribe.core.shelf import Shelf
from limbscribe.tui.flow import Flow
from limbscribe.tui.screens.guard.screen import WhoScreen

from tests.support.app import desk

LETTERS = "ABCXYZ0123-_OIL"
CODES = st.text(st.sampled_from(LETTERS), min_size=2, max_size=8)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("K-014", "K-015"),  # substituted
        ("K-014", "K-04"),  # dropped
        ("K-014", "K-0144"),  # added
        ("K-014", "-014"),
        ("K-014", "K-0145"),
        ("K-014", "K-041"),  # neighbours swapped
        ("K-014", "-K014"),
        ("K-014", "k-014"),  # case
        ("K-014", "K-O14"),  # look-alikes, any number of them
        ("KI-100", "K1_LOO"),
        ("K-O14", "K-041"),  # a look-alike and a slip
        ("AB", "A"),
        ("", "A"),
    ],
)
def test_look_alikes(one: str, other: str) -> None:
    assert look_alike(one, other)
    assert look_alike(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("K-014", "K-014"),  # itself
        ("K-014", "K-025"),  # two substituted
        ("K-014", "K-0"),  # two dropped
        ("K-014", "K-01455"),  # two added
        ("K-014", "K-410"),  # moved over two
        ("K-014", "0K-14"),  # moved over two
        ("K-1234", "K-2143"),  # two swaps
        ("K-014", "K-0B5"),  # dropped, and two others
        ("ABC", "CBA"),  # swapped, but no neighbours
        ("", "AB"),
    ],
)
def test_codes_that_do_not_look_alike(one: str, other: str) -> None:
    assert not look_alike(one, other)
    assert not look_alike(other, one)


def distance_is_one(one: str, other: str) -> bool:
    """Whether one slip is enough, by trying every slip there is."""
    a, b = (x.upper().translate(str.maketrans("OIL_", "011-")) for x in (one, other))
    if a == b:
        return one != other
    alphabet = string.ascii_uppercase + string.digits + "-"
    tries = {a[:i] + a[i + 1 :] for i in range(len(a))}
    tries |= {a[:i] + c + a[i + 1 :] for i in range(len(a)) for c in alphabet}
    tries |= {a[:i] + c + a[i:] for i in range(len(a) + 1) for c in alphabet}
    tries |= {a[:i] + a[i + 1] + a[i] + a[i + 2 :] for i in range(len(a) - 1)}
    return b in tries


@given(CODES, CODES)
def test_it_agrees_with_trying_every_slip(one: str, other: str) -> None:
    assert look_alike(one, other) == distance_is_one(one, other)


def test_it_agrees_near_the_boundary() -> None:
    """Random pairs are mostly far apart; these are one and two slips apart."""
    random = Random(11)
    seen = {True: 0, False: 0}
    for _ in range(3000):
        code = "".join(random.choices(LETTERS, k=random.randrange(2, 7)))
        other = mistyped(code, random)
        if random.random() < 0.5:
            other = mistyped(other, random)
        expected = distance_is_one(code, other)
        assert look_alike(code, other) == expected, (code, other)
        seen[expected] += 1
    assert min(seen.values()) > 500


def mistyped(code: str, random: Random) -> str:
    """The code with one slip."""
    at = random.randrange(len(code))
    kind = random.randrange(4)
    if kind == 0:
        return code[:at] + random.choice(LETTERS) + code[at + 1 :]
    if kind == 1 and len(code) > 1:
        return code[:at] + code[at + 1 :]
    if kind == 2:
        return code[:at] + random.choice(LETTERS) + code[at:]
    at = min(at, len(code) - 2)
    return code[:at] + code[at : at + 2][::-1] + code[at + 2 :] if at >= 0 else code


def test_thousands_at_once_are_those_one_by_one() -> None:
    random = Random(3)
    known = ["".join(random.choices(LETTERS, k=random.randrange(2, 6))) for _ in range(300)]
    known = sorted(set(known))
    found = dict(lookalikes_among(known, known))
    assert found == {c: near for c in known if (near := lookalikes_of(c, known))}
    assert found


def test_the_ending_is_the_last_three_or_all() -> None:
    assert (ending("ZZ-41"), ending("AB1"), ending("A1")) == ("-41", "AB1", "A1")
    assert retyped("ZZ-41", "-41")
    assert retyped("K-01a", " 01A ")
    assert retyped("A1", "a1")
    for wrong in ("", "41", "-14", "Z-41", "ZZ-41", "-4l"):
        assert not retyped("ZZ-41", wrong), wrong


# A thousand mistyped codes ----------------------------------------------------------------


class Caller:
    """A screen that sessions are begun from; it keeps what is opened and said."""

    def __init__(self, context: object) -> None:
        self.context = context
        self.opened: list[object] = []
        self.said: list[str] = []

    @property
    def owner(self) -> Caller:
        """The app."""
        return self

    def push_screen(self, screen: object, callback: object = None) -> None:
        """A screen comes up."""
        del callback
        self.opened.append(screen)

    def say(self, text: str) -> None:
        """A sentence."""
        self.said.append(text)


def test_a_thousand_mistyped_codes_open_nobody_unasked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Codes are given out in a row, so that slips meet other patients often."""
    here = desk(tmp_path)
    codes = [f"P-{number:03d}" for number in range(100, 200)]
    ids = {code: here.shelf.create(Patient(code)) for code in codes}

    def never(*_: object) -> None:
        raise AssertionError("opened without asking")

    monkeypatch.setattr(Shelf, "start", never)
    monkeypatch.setattr(Shelf, "resume", never)
    random = Random(17)
    met = refused = 0
    for _ in range(1000):
        code = random.choice(codes)
        typed = parse_code(mistyped(code, random))
        if not isinstance(typed, str) or typed == code or typed not in ids:
            continue
        met += 1
        caller = Caller(here)
        Flow().begin_session(caller, ids[typed], never)  # type: ignore[arg-type]
        [asking] = caller.opened
        assert isinstance(asking, WhoScreen)
        assert asking.who.code == typed
        refused += not retyped(typed, ending(code))
    print(f"\n1000 mistyped codes: {met} were another patient's, each was asked about; the ending")
    print(f"of the right code, from the label in the hand, was refused in {refused} of them")
    assert met > 100
    assert refused == met, "in a row of codes every slip between two is in their ending"

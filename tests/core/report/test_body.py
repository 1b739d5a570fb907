"""The body chart: inside the outline, mirrored, a digit that can be read on every depth."""

from __future__ import annotations

import re

import pytest
from limbscribe.core.report.html_body import CELL, FIGURE, BodyMark, body_drawing, colour_of, spot
from limbscribe.core.report.outline import OUTLINE, SIZES, USUAL, smooth
from limbscribe.core.tardieu.figure import FIGURE as LETTERS
from limbscribe.core.tardieu.figure import column, figure_lines, gap_sign
from limbscribe.core.tardieu.muscle import Place
from limbscribe.core.tardieu.reading import Side

from tests.support.records import MUSCLES

PLACES = sorted({muscle.place for muscle in MUSCLES.values()}, key=str)
LEFT, RIGHT = Side.LEFT, Side.RIGHT


def mark(gap: int | None, catch: bool | None = True, short: bool = False) -> BodyMark:
    return BodyMark(PLACES[0], LEFT, gap, short, catch, "words")


def inside(x: float, y: float) -> bool:
    """Whether a spot lies in the outline: a ray from it crosses the edge an odd number of times."""
    half = [*OUTLINE, *((-x, y) for x, y in reversed(OUTLINE))]
    corners = smooth(half)
    met = 0
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            met += 1
    return met % 2 == 1


@pytest.mark.parametrize("place", PLACES, ids=str)
def test_every_region_begins_inside_the_outline(place: Place):
    assert inside(place.lateral, place.row + 0.5)
    assert inside(-place.lateral, place.row + 0.5)
    assert not inside(7.9, 1.0), "the test can fail"


@pytest.mark.parametrize("place", PLACES, ids=str)
def test_sides_are_mirrored_and_the_patients_right_is_on_the_viewers_left(place: Place):
    left, right = spot(place, LEFT)[0], spot(place, RIGHT)[0]
    assert left + right == pytest.approx(FIGURE)
    assert (right < left) == (place.view == "front")
    assert spot(place, LEFT)[1] == spot(place, RIGHT)[1]


def test_no_two_shipped_regions_cover_each_others_digit():
    for one in PLACES:
        for other in PLACES:
            if one == other or one.view != other.view:
                continue
            wide, high = SIZES.get(other, USUAL)
            apart = abs(one.lateral - other.lateral), abs(one.row - other.row)
            assert apart[0] >= wide or apart[1] >= high, (one, other)


def test_the_digit_is_the_tens_of_the_gap_and_other_signs_say_why_there_is_none():
    given = [(0, "0"), (9, "0"), (10, "1"), (59, "5"), (99, "9"), (140, "9"), (-3, "0")]
    assert [gap_sign(gap, True) for gap, _ in given] == [sign for _, sign in given]
    assert (gap_sign(None, True), gap_sign(None, False), gap_sign(None, None)) == ("?", "-", "x")


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize("gap", range(0, 100, 10))
def test_every_digit_has_the_contrast_of_wcag_on_its_depth(gap: int):
    """Web Content Accessibility Guidelines 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    fill, dark = colour_of(mark(gap))
    ink, ground = luminance("#ffffff" if dark else "#111111"), luminance(fill)
    light, deep = max(ink, ground), min(ink, ground)
    assert (light + 0.05) / (deep + 0.05) >= 4.5
    if gap:
        assert ground < luminance(colour_of(mark(gap - 10))[0]), "deeper with every ten"


def test_bar_dashes_and_titles():
    plain = body_drawing([mark(12)]).as_str()
    assert "bar" not in re.findall(r'class="([^"]*)"', plain)
    assert 'class="bar"' in body_drawing([mark(12, short=True)]).as_str()
    assert 'class="lightbar"' in body_drawing([mark(72, short=True)]).as_str()
    assert 'class="untested"' in body_drawing([mark(None, None)]).as_str()
    hostile = BodyMark(PLACES[0], LEFT, 3, False, True, '<b onclick="x">\x1b')
    text = body_drawing([hostile]).as_str()
    assert "&lt;b onclick=&quot;x&quot;&gt;\\u001b" in text


def test_before_stands_beside_now_and_the_larger_gap_shows_where_two_share_a_place():
    alone, both = body_drawing([mark(12)]), body_drawing([mark(12)], [mark(34)])
    assert both.width == 2 * alone.width  # type: ignore[operator]
    assert both.as_str().count('class="outline"') == 2 * alone.as_str().count('class="outline"')
    shared = body_drawing([mark(12), mark(45), mark(None, None)]).as_str()
    assert shared.count('class="region"') == 1
    assert ">4<" in shared
    assert CELL > 0


@pytest.mark.parametrize("place", PLACES, ids=str)
def test_letters_stand_at_their_places(place: Place):
    lines = figure_lines({(place, LEFT): "7", (place, RIGHT): "3"}, place.view)
    assert lines[place.row][column(place.view, LEFT, place.lateral)] == "7"
    assert lines[place.row][column(place.view, RIGHT, place.lateral)] == "3"
    assert "".join(lines).count("7") == "".join(lines).count("3") == 1
    assert [len(row) for row in lines] == [17] * 17
    assert not set("".join(LETTERS)) & set("0123456789-x?")

"""Two plots of a pair of raters, as lines of text."""

from __future__ import annotations

import textwrap

from ...core.agreement.limits import LimitsOfAgreement
from ...core.agreement.study import Study
from ...core.agreement.words import WIDTH
from ...core.text import visible
from .pairs import draw_bland_altman, draw_pairs

HEIGHT = 15


def plot_lines(study: Study) -> list[str]:
    """Draw the two plots of a pair of raters; none where there are no limits of agreement."""
    found = study.limits
    if not isinstance(found, LimitsOfAgreement):
        return []
    one, two = (visible(name) for name in study.ratings.raters)
    pairs = [(float(row[0]), float(row[1])) for row in study.ratings.whole]
    lines = (found.low.value, found.bias.value, found.high.value)
    levels = [line for line in lines if line is not None]
    titles = (
        f"Each target: {one} across, {two} up; dots where both are equal",
        f"Difference ({one} minus {two}) up, mean of the two across; lines: bias and limits",
    )
    return [
        "",
        *textwrap.wrap(titles[0], WIDTH),
        *draw_pairs(pairs, WIDTH, HEIGHT),
        "",
        *textwrap.wrap(titles[1], WIDTH),
        *draw_bland_altman(pairs, levels, WIDTH, HEIGHT),
        "A mark may stand for several targets.",
    ]

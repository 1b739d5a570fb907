"""Trends and pairs of ratings drawn as lines of text; frame.py alone knows plotext."""

from __future__ import annotations

from .axes import degree_ticks, even_ticks
from .inline import draw_inline
from .page import Grid, days_of, draw_page, draw_small, grid_of, title_of
from .pairs import draw_bland_altman, draw_pairs
from .signs import Drawn, coloured_spans, event_lines, legend_lines
from .trend import draw_trends, possible_signs

__all__ = [
    "Drawn",
    "Grid",
    "coloured_spans",
    "days_of",
    "degree_ticks",
    "draw_bland_altman",
    "draw_inline",
    "draw_page",
    "draw_pairs",
    "draw_small",
    "draw_trends",
    "even_ticks",
    "event_lines",
    "grid_of",
    "legend_lines",
    "possible_signs",
    "title_of",
]

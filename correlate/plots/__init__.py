"""Pictures of results, for reports and for the dashboard."""

from correlate.plots.graph import GRAPH_CONFIG, drawing_library, figure_html
from correlate.plots.pair import pair_figure
from correlate.plots.palette import DARK, LIGHT, Palette, Theme, palette
from correlate.plots.record_words import choice_words, recipe_words, step_words
from correlate.plots.typeface import FONT, font_face
from correlate.plots.wording import (
    CAUTION,
    COMPONENTS,
    channel_title,
    delay_in_words,
    filter_words,
    grade_zones,
    unit_words,
)

__all__ = [
    "CAUTION",
    "COMPONENTS",
    "DARK",
    "FONT",
    "GRAPH_CONFIG",
    "LIGHT",
    "Palette",
    "Theme",
    "channel_title",
    "choice_words",
    "delay_in_words",
    "drawing_library",
    "figure_html",
    "filter_words",
    "font_face",
    "grade_zones",
    "pair_figure",
    "palette",
    "recipe_words",
    "step_words",
    "unit_words",
]

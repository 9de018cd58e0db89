"""Pictures of results, for reports and for the dashboard."""

from correlate.plots.cross_plot import cross_plot_figure
from correlate.plots.finding import finding_figure
from correlate.plots.graph import GRAPH_CONFIG, drawing_library, figure_html
from correlate.plots.laboratory_words import (
    finding_title,
    qualification_words,
    repeatability_facts,
    rounded,
    verdict_words,
)
from correlate.plots.pair import pair_figure
from correlate.plots.palette import DARK, LIGHT, Palette, Theme, palette
from correlate.plots.record_words import choice_words, recipe_words, step_words
from correlate.plots.repeats import repeats_figure
from correlate.plots.scoreboard_trend import trend_figure
from correlate.plots.scoreboard_words import (
    board_title,
    channel_count,
    limits_words,
    moved_words,
    scatter_brief,
    scatter_words,
    signed,
)
from correlate.plots.typeface import FONT, font_face
from correlate.plots.window_strip import WindowStrip, window_strip
from correlate.plots.wording import (
    CAUTION,
    COMPONENTS,
    channel_title,
    delay_in_words,
    filter_words,
    grade_zones,
    milliseconds,
    number,
    share,
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
    "WindowStrip",
    "board_title",
    "channel_count",
    "channel_title",
    "choice_words",
    "cross_plot_figure",
    "delay_in_words",
    "drawing_library",
    "figure_html",
    "filter_words",
    "finding_figure",
    "finding_title",
    "font_face",
    "grade_zones",
    "limits_words",
    "milliseconds",
    "moved_words",
    "number",
    "pair_figure",
    "palette",
    "qualification_words",
    "recipe_words",
    "repeatability_facts",
    "repeats_figure",
    "rounded",
    "scatter_brief",
    "scatter_words",
    "share",
    "signed",
    "step_words",
    "trend_figure",
    "unit_words",
    "verdict_words",
    "window_strip",
]

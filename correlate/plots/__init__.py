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
from correlate.plots.pair_reach import ChangeReach, Reach, change_reach, interval_reach
from correlate.plots.pair_view import (
    CHANGED_TRACE,
    MOST_OTHERS,
    PairView,
    changed_trace,
    pair_view_figure,
)
from correlate.plots.palette import DARK, LIGHT, Palette, Theme, palette
from correlate.plots.parallel_axes import parallel_axes_figure
from correlate.plots.record_words import choice_words, recipe_words, step_words
from correlate.plots.repeats import repeats_figure
from correlate.plots.scoreboard_trend import trend_figure
from correlate.plots.scoreboard_words import (
    board_title,
    chance_brief,
    chance_words,
    channel_count,
    difference_interval,
    limits_words,
    moved_words,
    scatter_sentence,
    signed,
    uncertainty_words,
)
from correlate.plots.svg_figure import figure_svg
from correlate.plots.tuning_progress import front_figure, progress_figure
from correlate.plots.tuning_sensitivity import sensitivity_figure
from correlate.plots.tuning_surrogate import predicted_figure, slice_figure
from correlate.plots.typeface import FONT, font_face
from correlate.plots.window_strip import WindowStrip, window_strip
from correlate.plots.wording import (
    CAUTION,
    COMPONENTS,
    channel_title,
    delay_in_words,
    filter_words,
    grade_zones,
    interval_words,
    milliseconds,
    number,
    share,
    unit_words,
)

__all__ = [
    "CAUTION",
    "CHANGED_TRACE",
    "COMPONENTS",
    "DARK",
    "FONT",
    "GRAPH_CONFIG",
    "LIGHT",
    "MOST_OTHERS",
    "ChangeReach",
    "PairView",
    "Palette",
    "Reach",
    "Theme",
    "WindowStrip",
    "board_title",
    "chance_brief",
    "chance_words",
    "change_reach",
    "changed_trace",
    "channel_count",
    "channel_title",
    "choice_words",
    "cross_plot_figure",
    "delay_in_words",
    "difference_interval",
    "drawing_library",
    "figure_html",
    "figure_svg",
    "filter_words",
    "finding_figure",
    "finding_title",
    "font_face",
    "front_figure",
    "grade_zones",
    "interval_reach",
    "interval_words",
    "limits_words",
    "milliseconds",
    "moved_words",
    "number",
    "pair_figure",
    "pair_view_figure",
    "palette",
    "parallel_axes_figure",
    "predicted_figure",
    "progress_figure",
    "qualification_words",
    "recipe_words",
    "repeatability_facts",
    "repeats_figure",
    "rounded",
    "scatter_sentence",
    "sensitivity_figure",
    "share",
    "signed",
    "slice_figure",
    "step_words",
    "trend_figure",
    "uncertainty_words",
    "unit_words",
    "verdict_words",
    "window_strip",
]

"""Pictures of results, for reports and for the dashboard; loaded when first asked for.

The words beside the pictures are used by the terminal too, which must not load the drawing library.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.lazy import loader

# Called as the module it is in, whose import would take its place: imported first.
from correlate.plots.palette import palette

if TYPE_CHECKING:
    from correlate.plots.channel_words import ceiling_words as ceiling_words
    from correlate.plots.channel_words import scatter_numbers as scatter_numbers
    from correlate.plots.channel_words import scatter_verdict as scatter_verdict
    from correlate.plots.channel_words import stored_words as stored_words
    from correlate.plots.control_chart import ChartKey as ChartKey
    from correlate.plots.control_chart import control_chart_figure as control_chart_figure
    from correlate.plots.control_chart import control_chart_keys as control_chart_keys
    from correlate.plots.decision_words import OBJECTION_WORDS as OBJECTION_WORDS
    from correlate.plots.dummy_words import due_words as due_words
    from correlate.plots.dummy_words import overview_title as overview_title
    from correlate.plots.dummy_words import quantity_remarks as quantity_remarks
    from correlate.plots.dummy_words import result_words as result_words
    from correlate.plots.dummy_words import setting_facts as setting_facts
    from correlate.plots.dummy_words import signals_words as signals_words
    from correlate.plots.emulated import EMULATED_TRACES as EMULATED_TRACES
    from correlate.plots.emulated import curve_sensitivity_figure as curve_sensitivity_figure
    from correlate.plots.emulated import drawn_parameters as drawn_parameters
    from correlate.plots.emulated import emulated_figure as emulated_figure
    from correlate.plots.emulated import emulated_lines as emulated_lines
    from correlate.plots.emulated import kept_predictions_figure as kept_predictions_figure
    from correlate.plots.graph import GRAPH_CONFIG as GRAPH_CONFIG
    from correlate.plots.graph import drawing_library as drawing_library
    from correlate.plots.graph import figure_html as figure_html
    from correlate.plots.history_words import CONTROL_SOURCE as CONTROL_SOURCE
    from correlate.plots.history_words import INTERVALS as INTERVALS
    from correlate.plots.history_words import RANGE_SOURCE as RANGE_SOURCE
    from correlate.plots.history_words import RUN_SOURCE as RUN_SOURCE
    from correlate.plots.history_words import WINDOW_SOURCE as WINDOW_SOURCE
    from correlate.plots.history_words import Remark as Remark
    from correlate.plots.history_words import effect_words as effect_words
    from correlate.plots.history_words import history_remarks as history_remarks
    from correlate.plots.history_words import history_sentences as history_sentences
    from correlate.plots.history_words import quantity_words as quantity_words
    from correlate.plots.laboratory_words import finding_title as finding_title
    from correlate.plots.laboratory_words import qualification_words as qualification_words
    from correlate.plots.laboratory_words import repeatability_facts as repeatability_facts
    from correlate.plots.laboratory_words import rounded as rounded
    from correlate.plots.laboratory_words import verdict_words as verdict_words
    from correlate.plots.laboratory_words import with_unit as with_unit
    from correlate.plots.matrix_words import STATE_MARKS as STATE_MARKS
    from correlate.plots.matrix_words import STATE_WORDS as STATE_WORDS
    from correlate.plots.matrix_words import ceilings_sentence as ceilings_sentence
    from correlate.plots.matrix_words import cell_sentence as cell_sentence
    from correlate.plots.matrix_words import matrix_title as matrix_title
    from correlate.plots.matrix_words import states_sentence as states_sentence
    from correlate.plots.pair import ChangeReach as ChangeReach
    from correlate.plots.pair import Reach as Reach
    from correlate.plots.pair import change_reach as change_reach
    from correlate.plots.pair import interval_reach as interval_reach
    from correlate.plots.pair import pair_figure as pair_figure
    from correlate.plots.pair_view import CHANGED_TRACE as CHANGED_TRACE
    from correlate.plots.pair_view import MOST_OTHERS as MOST_OTHERS
    from correlate.plots.pair_view import PairView as PairView
    from correlate.plots.pair_view import changed_trace as changed_trace
    from correlate.plots.pair_view import pair_view_figure as pair_view_figure
    from correlate.plots.palette import DARK as DARK
    from correlate.plots.palette import FONT as FONT
    from correlate.plots.palette import LIGHT as LIGHT
    from correlate.plots.palette import Palette as Palette
    from correlate.plots.palette import Theme as Theme
    from correlate.plots.palette import font_face as font_face
    from correlate.plots.palette import repeat_colours as repeat_colours
    from correlate.plots.repeats import RepeatLine as RepeatLine
    from correlate.plots.repeats import WindowStrip as WindowStrip
    from correlate.plots.repeats import cross_plot_figure as cross_plot_figure
    from correlate.plots.repeats import finding_figure as finding_figure
    from correlate.plots.repeats import repeats_figure as repeats_figure
    from correlate.plots.repeats import window_strip as window_strip
    from correlate.plots.scoreboard_trend import trend_figure as trend_figure
    from correlate.plots.scoreboard_trend import trend_svg as trend_svg
    from correlate.plots.scoreboard_trend import trend_words as trend_words
    from correlate.plots.scoreboard_words import board_title as board_title
    from correlate.plots.scoreboard_words import chance_brief as chance_brief
    from correlate.plots.scoreboard_words import chance_words as chance_words
    from correlate.plots.scoreboard_words import channel_count as channel_count
    from correlate.plots.scoreboard_words import difference_interval as difference_interval
    from correlate.plots.scoreboard_words import limits_words as limits_words
    from correlate.plots.scoreboard_words import moved_words as moved_words
    from correlate.plots.scoreboard_words import scatter_sentence as scatter_sentence
    from correlate.plots.scoreboard_words import signed as signed
    from correlate.plots.scoreboard_words import uncertainty_words as uncertainty_words
    from correlate.plots.sign_off_words import day_words as day_words
    from correlate.plots.sign_off_words import sign_off_changes as sign_off_changes
    from correlate.plots.signal import signal_figure as signal_figure
    from correlate.plots.svg_figure import figure_svg as figure_svg
    from correlate.plots.tuning import front_figure as front_figure
    from correlate.plots.tuning import parallel_axes_figure as parallel_axes_figure
    from correlate.plots.tuning import predicted_figure as predicted_figure
    from correlate.plots.tuning import progress_figure as progress_figure
    from correlate.plots.tuning import sensitivity_figure as sensitivity_figure
    from correlate.plots.tuning import slice_figure as slice_figure
    from correlate.plots.wording import CAUTION as CAUTION
    from correlate.plots.wording import COMPONENTS as COMPONENTS
    from correlate.plots.wording import as_sentence as as_sentence
    from correlate.plots.wording import channel_title as channel_title
    from correlate.plots.wording import choice_words as choice_words
    from correlate.plots.wording import delay_in_words as delay_in_words
    from correlate.plots.wording import filter_words as filter_words
    from correlate.plots.wording import grade_zones as grade_zones
    from correlate.plots.wording import interval_words as interval_words
    from correlate.plots.wording import milliseconds as milliseconds
    from correlate.plots.wording import number as number
    from correlate.plots.wording import recipe_words as recipe_words
    from correlate.plots.wording import share as share
    from correlate.plots.wording import step_words as step_words
    from correlate.plots.wording import unit_words as unit_words

_HOMES = {
    "CAUTION": "correlate.plots.wording",
    "CHANGED_TRACE": "correlate.plots.pair_view",
    "COMPONENTS": "correlate.plots.wording",
    "CONTROL_SOURCE": "correlate.plots.history_words",
    "DARK": "correlate.plots.palette",
    "EMULATED_TRACES": "correlate.plots.emulated",
    "FONT": "correlate.plots.palette",
    "GRAPH_CONFIG": "correlate.plots.graph",
    "INTERVALS": "correlate.plots.history_words",
    "LIGHT": "correlate.plots.palette",
    "MOST_OTHERS": "correlate.plots.pair_view",
    "OBJECTION_WORDS": "correlate.plots.decision_words",
    "RANGE_SOURCE": "correlate.plots.history_words",
    "RUN_SOURCE": "correlate.plots.history_words",
    "STATE_MARKS": "correlate.plots.matrix_words",
    "STATE_WORDS": "correlate.plots.matrix_words",
    "WINDOW_SOURCE": "correlate.plots.history_words",
    "ChartKey": "correlate.plots.control_chart",
    "ChangeReach": "correlate.plots.pair",
    "PairView": "correlate.plots.pair_view",
    "Palette": "correlate.plots.palette",
    "Reach": "correlate.plots.pair",
    "Remark": "correlate.plots.history_words",
    "RepeatLine": "correlate.plots.repeats",
    "Theme": "correlate.plots.palette",
    "WindowStrip": "correlate.plots.repeats",
    "as_sentence": "correlate.plots.wording",
    "board_title": "correlate.plots.scoreboard_words",
    "ceiling_words": "correlate.plots.channel_words",
    "ceilings_sentence": "correlate.plots.matrix_words",
    "cell_sentence": "correlate.plots.matrix_words",
    "chance_brief": "correlate.plots.scoreboard_words",
    "chance_words": "correlate.plots.scoreboard_words",
    "change_reach": "correlate.plots.pair",
    "changed_trace": "correlate.plots.pair_view",
    "channel_count": "correlate.plots.scoreboard_words",
    "channel_title": "correlate.plots.wording",
    "choice_words": "correlate.plots.wording",
    "control_chart_figure": "correlate.plots.control_chart",
    "control_chart_keys": "correlate.plots.control_chart",
    "cross_plot_figure": "correlate.plots.repeats",
    "curve_sensitivity_figure": "correlate.plots.emulated",
    "day_words": "correlate.plots.sign_off_words",
    "delay_in_words": "correlate.plots.wording",
    "difference_interval": "correlate.plots.scoreboard_words",
    "drawing_library": "correlate.plots.graph",
    "drawn_parameters": "correlate.plots.emulated",
    "due_words": "correlate.plots.dummy_words",
    "effect_words": "correlate.plots.history_words",
    "emulated_figure": "correlate.plots.emulated",
    "emulated_lines": "correlate.plots.emulated",
    "figure_html": "correlate.plots.graph",
    "figure_svg": "correlate.plots.svg_figure",
    "filter_words": "correlate.plots.wording",
    "finding_figure": "correlate.plots.repeats",
    "finding_title": "correlate.plots.laboratory_words",
    "font_face": "correlate.plots.palette",
    "front_figure": "correlate.plots.tuning",
    "grade_zones": "correlate.plots.wording",
    "history_remarks": "correlate.plots.history_words",
    "history_sentences": "correlate.plots.history_words",
    "interval_reach": "correlate.plots.pair",
    "interval_words": "correlate.plots.wording",
    "kept_predictions_figure": "correlate.plots.emulated",
    "limits_words": "correlate.plots.scoreboard_words",
    "matrix_title": "correlate.plots.matrix_words",
    "milliseconds": "correlate.plots.wording",
    "moved_words": "correlate.plots.scoreboard_words",
    "number": "correlate.plots.wording",
    "overview_title": "correlate.plots.dummy_words",
    "pair_figure": "correlate.plots.pair",
    "pair_view_figure": "correlate.plots.pair_view",
    "parallel_axes_figure": "correlate.plots.tuning",
    "predicted_figure": "correlate.plots.tuning",
    "progress_figure": "correlate.plots.tuning",
    "qualification_words": "correlate.plots.laboratory_words",
    "quantity_remarks": "correlate.plots.dummy_words",
    "quantity_words": "correlate.plots.history_words",
    "recipe_words": "correlate.plots.wording",
    "repeat_colours": "correlate.plots.palette",
    "repeatability_facts": "correlate.plots.laboratory_words",
    "repeats_figure": "correlate.plots.repeats",
    "result_words": "correlate.plots.dummy_words",
    "rounded": "correlate.plots.laboratory_words",
    "scatter_numbers": "correlate.plots.channel_words",
    "scatter_sentence": "correlate.plots.scoreboard_words",
    "scatter_verdict": "correlate.plots.channel_words",
    "sensitivity_figure": "correlate.plots.tuning",
    "setting_facts": "correlate.plots.dummy_words",
    "share": "correlate.plots.wording",
    "sign_off_changes": "correlate.plots.sign_off_words",
    "signal_figure": "correlate.plots.signal",
    "signals_words": "correlate.plots.dummy_words",
    "signed": "correlate.plots.scoreboard_words",
    "slice_figure": "correlate.plots.tuning",
    "states_sentence": "correlate.plots.matrix_words",
    "step_words": "correlate.plots.wording",
    "stored_words": "correlate.plots.channel_words",
    "trend_figure": "correlate.plots.scoreboard_trend",
    "trend_svg": "correlate.plots.scoreboard_trend",
    "trend_words": "correlate.plots.scoreboard_trend",
    "uncertainty_words": "correlate.plots.scoreboard_words",
    "unit_words": "correlate.plots.wording",
    "verdict_words": "correlate.plots.laboratory_words",
    "window_strip": "correlate.plots.repeats",
    "with_unit": "correlate.plots.laboratory_words",
}

__all__ = [*_HOMES, "palette"]  # noqa: PLE0604 - the keys are the names

__getattr__ = loader(__name__, _HOMES)

"""Every id of the pages, once. Those of a page begin with its name."""

from __future__ import annotations

from typing import Final

ADDRESS: Final = "address"
"""The URL as the frame sees it: which page is shown. Each page has its own for its state."""

PROVIDER: Final = "provider"
THEME_CHOICE: Final = "theme-choice"
THEME: Final = "theme"
CAMPAIGN: Final = "campaign"
NOTICE: Final = "notice"
NAVIGATION: Final = "navigation"
CONTENT: Final = "content"
"""Where the page is put."""

PAGE_NAME: Final = "page-name"
"""Holds what the tab is called until the page knows better."""

TAB_TITLE: Final = "tab-title"
"""Kind of the part of each page that holds the title of the tab."""

RELEASE: Final = "release"
CASE: Final = "load-case"
REPEAT: Final = "repeat"
CHANNEL: Final = "channel"
CFC: Final = "cfc"
START: Final = "interval-from"
END: Final = "interval-to"
CHANGES: Final = "changes"

CONTROLS: Final = "controls"
HEADING: Final = "heading"
PROBLEM: Final = "problem"
RATED: Final = "rated"
VERDICT: Final = "verdict"
FIGURE: Final = "figure"
PROVENANCE: Final = "provenance"

SCOREBOARD_RELEASE: Final = "scoreboard-release"
SCOREBOARD_AGAINST: Final = "scoreboard-against"
SCOREBOARD_PICKS: Final = "scoreboard-picks"
SCOREBOARD_CONTENT: Final = "scoreboard-content"
SCOREBOARD_PRINT: Final = "scoreboard-print"
SCOREBOARD_TREND: Final = "scoreboard-trend"

MATRIX_VIEW: Final = "matrix-view"
MATRIX_RELEASE: Final = "matrix-release"
MATRIX_AGAINST: Final = "matrix-against"
MATRIX_SORT: Final = "matrix-sort"
MATRIX_REGION: Final = "matrix-region"
MATRIX_CASE: Final = "matrix-load-case"
MATRIX_STATE: Final = "matrix-state"
MATRIX_PICKS: Final = "matrix-picks"
MATRIX_HEADING: Final = "matrix-heading"
MATRIX_LEAD: Final = "matrix-lead"
MATRIX_PROBLEM: Final = "matrix-problem"
MATRIX_SHOWN: Final = "matrix-shown"
MATRIX_GRID: Final = "matrix-grid"
STEPPING: Final = "stepping"
"""Where the pair page says which pair of a list it shows."""

REPEATS_CASE: Final = "repeats-load-case"
REPEATS_CHANNEL: Final = "repeats-channel"
REPEATS_WIDTH: Final = "repeats-width"
REPEATS_ACROSS: Final = "repeats-across"
REPEATS_WINDOW: Final = "repeats-window"
REPEATS_CONTROLS: Final = "repeats-controls"
REPEATS_HEADING: Final = "repeats-heading"
REPEATS_PROBLEM: Final = "repeats-problem"
REPEATS_SHOWN: Final = "repeats-shown"
REPEATS_FIGURE: Final = "repeats-figure"
REPEATS_NUMBERS: Final = "repeats-numbers"
REPEATS_CROSS_CARD: Final = "repeats-cross-card"
REPEATS_CROSS_WORDS: Final = "repeats-cross-words"
REPEATS_CROSS_FIGURE: Final = "repeats-cross-figure"
REPEATS_WINDOWS: Final = "repeats-windows"
REPEATS_FINDINGS: Final = "repeats-findings"
REPEATS_FINDING: Final = "repeats-finding"
"""Kind of the figures of findings."""

DATA_SUMMARY: Final = "data-summary"
DATA_PROBLEM: Final = "data-problem"
DATA_SHOWN: Final = "data-shown"
DATA_RELEASES: Final = "data-releases"
DATA_TESTS: Final = "data-tests"
DATA_PACKAGES: Final = "data-packages"
DATA_PACKAGE: Final = "data-package"
DATA_PACKAGE_SAID: Final = "data-package-said"
DATA_RESULTS: Final = "data-results"
DATA_RESULTS_FILE: Final = "data-results-file"
DATA_RESULTS_NAME: Final = "data-results-name"
DATA_RESULTS_NOTE: Final = "data-results-note"
DATA_RESULTS_SEND: Final = "data-results-send"
DATA_RESULTS_SAID: Final = "data-results-said"
DATA_RATE: Final = "data-rate"
DATA_RATE_SAID: Final = "data-rate-said"
DATA_PAIRING: Final = "data-pairing"
DATA_PAIRING_RELEASE: Final = "data-pairing-release"
DATA_PAIRING_SAID: Final = "data-pairing-said"
DATA_OPEN_CHANNELS: Final = "data-open-channels"
DATA_PARTNER: Final = "data-partner"
"""Kind of the menus of partners."""
DATA_TURNED: Final = "data-turned"
"""Kind of the boxes that turn the sign of a partner."""
DATA_ACCEPT: Final = "data-accept"
"""Kind of the buttons that accept a partner."""

TUNING_HEADING: Final = "tuning-heading"
TUNING_PROBLEM: Final = "tuning-problem"
TUNING_SHOWN: Final = "tuning-shown"
TUNING_GRID: Final = "tuning-grid"
TUNING_ALL_RUNS: Final = "tuning-all-runs"
TUNING_PROGRESS: Final = "tuning-progress"
TUNING_PROGRESS_WORDS: Final = "tuning-progress-words"
TUNING_PROGRESS_PLACE: Final = "tuning-progress-place"
TUNING_FRONT: Final = "tuning-front"
TUNING_FRONT_WORDS: Final = "tuning-front-words"
TUNING_FRONT_PLACE: Final = "tuning-front-place"
TUNING_FIT: Final = "tuning-fit"
TUNING_FIT_WORDS: Final = "tuning-fit-words"
TUNING_FIT_ASKED: Final = "tuning-fit-asked"
"""What of the address is shown of the fit."""
TUNING_FIT_START: Final = "tuning-fit-start"
TUNING_FIT_SAID: Final = "tuning-fit-said"
TUNING_FIT_SHOWN: Final = "tuning-fit-shown"
TUNING_OUTCOME: Final = "tuning-outcome"
TUNING_OUTCOME_WORDS: Final = "tuning-outcome-words"
TUNING_ALONG: Final = "tuning-along"
TUNING_PREDICTED: Final = "tuning-predicted"
TUNING_SENSITIVITY: Final = "tuning-sensitivity"
TUNING_SLICE: Final = "tuning-slice"
TUNING_PROPOSALS: Final = "tuning-proposals"
TUNING_CHOSEN: Final = "tuning-chosen"
TUNING_EXPORT: Final = "tuning-export"
TUNING_EXPORT_SAID: Final = "tuning-export-said"
TUNING_FILE: Final = "tuning-file"

TUNING_CURVES: Final = "tuning-curves"
TUNING_CURVES_WORDS: Final = "tuning-curves-words"
TUNING_CURVES_PLACE: Final = "tuning-curves-place"
TUNING_CURVE_CASE: Final = "tuning-curve-load-case"
TUNING_CURVE_CHANNEL: Final = "tuning-curve-channel"
TUNING_CURVE_TRUST: Final = "tuning-curve-trust"
TUNING_CURVE_FIGURE: Final = "tuning-curve-figure"
TUNING_CURVE_PREDICTED: Final = "tuning-curve-predicted"
TUNING_CURVE_RATED: Final = "tuning-curve-rated"
TUNING_CURVE_MOVING: Final = "tuning-curve-moving"
TUNING_CURVE_SLIDERS: Final = "tuning-curve-sliders"
TUNING_CURVE_SLIDER: Final = "tuning-curve-slider"
"""Kind of the sliders of parameters."""
TUNING_CURVE_VALUE: Final = "tuning-curve-value"
"""Kind of the values beside them."""
TUNING_CURVE_SETTLED: Final = "tuning-curve-settled"
"""Values of the sliders once they rest."""
TUNING_CURVE_SHOWN: Final = "tuning-curve-shown"
"""What of the address is shown, the place of the channel, and the point that the sliders began at."""
TUNING_CURVE_BEST: Final = "tuning-curve-best"
TUNING_CURVE_START: Final = "tuning-curve-start"
TUNING_MOVES: Final = "tuning-moves"
TUNING_MOVES_PLACE: Final = "tuning-moves-place"
TUNING_MOVES_WORDS: Final = "tuning-moves-words"
TUNING_MOVES_FIGURE: Final = "tuning-moves-figure"
TUNING_KEPT_WORDS: Final = "tuning-kept-words"
TUNING_KEPT_PLACE: Final = "tuning-kept-place"
TUNING_KEPT_OUTCOME: Final = "tuning-kept-outcome"
TUNING_KEPT_FIGURE: Final = "tuning-kept-figure"
TUNING_KEPT_TABLE: Final = "tuning-kept-table"


def address_of(page: str) -> str:
    """Return the id of the URL of a page.

    Examples
    --------
    >>> address_of("pair")
    'pair-address'
    """
    return f"{page}-address"


def tab_title_of(page: str) -> dict[str, str]:
    """Return the id of the part of a page that holds the title of the tab.

    Examples
    --------
    >>> tab_title_of("pair")
    {'type': 'tab-title', 'page': 'pair'}
    """
    return {"type": TAB_TITLE, "page": page}


def job_part(page: str, part: str) -> str:
    """Return the id of a part of the panel that shows work in the background.

    Examples
    --------
    >>> job_part("data", "clock")
    'data-job-clock'
    """
    return f"{page}-job-{part}"

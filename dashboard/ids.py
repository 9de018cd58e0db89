"""Every id of the page, once."""

from __future__ import annotations

from typing import Final

ADDRESS: Final = "address"
"""The address line of the browser, which holds the state of the page."""

PROVIDER: Final = "provider"
THEME_CHOICE: Final = "theme-choice"
THEME: Final = "theme"
TAB_TITLE: Final = "tab-title"

RELEASE: Final = "release"
CASE: Final = "load-case"
REPEAT: Final = "repeat"
CHANNEL: Final = "channel"
CFC: Final = "cfc"
START: Final = "interval-from"
END: Final = "interval-to"
CHANGES: Final = "changes"

CONTROLS: Final = "controls"
CAMPAIGN: Final = "campaign"
HEADING: Final = "heading"
PROBLEM: Final = "problem"
RATED: Final = "rated"
VERDICT: Final = "verdict"
FIGURE: Final = "figure"
PROVENANCE: Final = "provenance"

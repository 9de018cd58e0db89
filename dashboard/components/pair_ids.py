"""The ids of the pair page beyond those of ``ids``."""

from __future__ import annotations

from typing import Final

OTHERS: Final = "pair-others"
PARTS: Final = "pair-parts"
INTERVAL: Final = "pair-interval"
SHIFT: Final = "pair-shift"
SCALE: Final = "pair-scale"
OFFSET: Final = "pair-offset"
OFFSET_UNIT: Final = "pair-offset-unit"
CHANGED: Final = "pair-changed"
"""Holds the rating after the change."""

RELEASES: Final = "pair-releases"
SCATTER: Final = "pair-scatter"
"""Holds the scatter of the hardware, beside the rating."""

DETAILS: Final = "pair-details"
FINDINGS: Final = "pair-findings"
UNFOLD: Final = "pair-unfold"
"""Shows the menus on a small screen."""

BELOW: Final = "pair-below"
"""Everything under the curves."""

WINDOW: Final = "pair-window"
"""Holds the way back from a zoom."""

ZOOM: Final = "pair-zoom"
"""Holds the last change of the time that is looked at."""

SHOWN: Final = "pair-shown"
"""Holds which pair is shown, for what is worked out after it."""

REASONS: Final = "pair-reasons"
DATA: Final = "pair-data"
DOWNLOAD: Final = "pair-download"
DOWNLOAD_PROBLEM: Final = "pair-download-problem"

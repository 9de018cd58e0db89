"""The table of targets: every reader and settings file of the project."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from tests.fuzz.targets import packages, pages, recordings, saved, settings

if TYPE_CHECKING:
    from tests.fuzz.rounds import Target

TARGETS: Final[dict[str, Target]] = {
    one.name: one for module in (recordings, settings, packages, saved, pages) for one in module.TARGETS
}
"""By name."""

"""Rates how well a virtual crash-test dummy agrees with the physical one.

The public interface: everything here may be imported as ``from correlate import …``. Names are loaded
when they are first asked for, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from correlate import version

if TYPE_CHECKING:
    from correlate.conditioning import Recipe as Recipe
    from correlate.conditioning import align as align
    from correlate.errors import CorrelateError as CorrelateError
    from correlate.formats import Recording as Recording
    from correlate.formats import read as read
    from correlate.metrics.iso18571 import Rating as Rating
    from correlate.metrics.iso18571 import RatingSettings as RatingSettings
    from correlate.metrics.iso18571 import Weights as Weights
    from correlate.metrics.iso18571 import rate as rate
    from correlate.pair import AlignedPair as AlignedPair
    from correlate.signal import Signal as Signal
    from correlate.signal import Source as Source
    from correlate.signal import Step as Step

__version__ = version.VERSION

_HOMES = {
    "AlignedPair": "correlate.pair",
    "CorrelateError": "correlate.errors",
    "Rating": "correlate.metrics.iso18571",
    "RatingSettings": "correlate.metrics.iso18571",
    "Recipe": "correlate.conditioning",
    "Recording": "correlate.formats",
    "Signal": "correlate.signal",
    "Source": "correlate.signal",
    "Step": "correlate.signal",
    "Weights": "correlate.metrics.iso18571",
    "align": "correlate.conditioning",
    "rate": "correlate.metrics.iso18571",
    "read": "correlate.formats",
}

__all__ = ["__version__", *_HOMES]  # noqa: PLE0604 - the keys are the names


def __getattr__(name: str) -> object:
    """Load a public name from the module it lives in."""
    if name not in _HOMES:
        raise AttributeError(f"module 'correlate' has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)

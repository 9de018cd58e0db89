"""An offset window in which the event has begun already."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from correlate.conditioning import condition
from correlate.conditioning.offset import offset_flags
from correlate.diagnosis.suspects.case import paired, rated
from correlate.diagnosis.suspects.suspect import Suspect
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case
    from correlate.signal import Signal

    Window = tuple[float, float]

SHARES: Final = (0.8, 0.6, 0.4, 0.2)
"""Parts of the window, from its start, that are tried in its place."""
CERTAIN: Final = 1.5
"""Weight: the test alone proves it, so it comes first."""


def disturbed_offset_window(case: Case) -> Iterator[Suspect]:
    """Look whether the offset of the test was taken where the test is not constant.

    Parameters
    ----------
    case
        The pair.

    Yields
    ------
    Suspect
        ``offset window overlaps the event``, at most one.

    References
    ----------
    .. [1] Criterion chosen here; see :func:`correlate.conditioning.offset.offset_flags`.
    """
    flags = offset_flags(case.treated_reference)
    window = case.recipe.reference_offset_window_s
    if not flags or window is None:
        return
    for quiet in _windows_before(case.reference, window):
        found = _with_window(case, quiet)
        if found is not None:
            yield Suspect(
                kind="offset window overlaps the event",
                channel=case.reference.channel,
                evidence=flags[0].sentence.rstrip("."),
                fix=f"write test_offset_ms = [{quiet[0] * 1e3:.6g}, {quiet[1] * 1e3:.6g}]",
                rating_before=case.rating,
                rating_after=found,
                change={"reference_offset_window_s": quiet},
                weight=CERTAIN,
            )
            return


def _windows_before(signal: Signal, window: Window) -> Iterator[Window]:
    """Yield windows that end earlier: parts of the window, then the time before it."""
    start_s, end_s = window
    yield from ((start_s, start_s + share * (end_s - start_s)) for share in SHARES)
    if signal.start_s < start_s:
        yield max(signal.start_s, 2 * start_s - end_s), start_s


def _with_window(case: Case, window: Window) -> float | None:
    """Return the rating with another offset window; None where that one is disturbed too."""
    recipe = replace(case.recipe, reference_offset_window_s=window)
    unit = recipe.unit or case.reference.unit
    try:
        treated = condition(case.reference, recipe.for_reference(unit))
    except SignalError:
        return None  # the window holds no sample
    if offset_flags(treated):
        return None
    return rated(paired(treated, case.treated_candidate, recipe), case.settings)

"""Whether two signals may be combined sample by sample."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.conditioning.interval import GRID_TOLERANCE
from correlate.errors import SignalError

if TYPE_CHECKING:
    from correlate.signal import Signal


def check_same_grid(one: Signal, other: Signal) -> None:
    """Refuse two signals whose samples were not taken at the same times.

    Parameters
    ----------
    one, other
        Any two signals.

    Raises
    ------
    SignalError
        They differ in number of samples, start or step.
    """
    slack_s = GRID_TOLERANCE * one.step_s
    apart_s = max(abs(other.start_s - one.start_s), abs(other.end_s - one.end_s))
    if len(other) != len(one) or apart_s > slack_s:
        raise SignalError(
            f"its {len(other)} samples from {other.start_s:.6g} s to {other.end_s:.6g} s do not match "
            f"the {len(one)} from {one.start_s:.6g} s to {one.end_s:.6g} s of channel '{one.channel}'",
            where=other.place,
            remedy="resample and crop both to one grid first",
        )

"""The share of work that a force-deflection loop absorbs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.criteria.curve_measures import internal_hysteresis

if TYPE_CHECKING:
    from correlate.diagnosis.features.pulse import Pulse


def loop_loss(force: Pulse, deflection: Pulse) -> float:
    """Return the share of the work of loading that is not given back.

    Parameters
    ----------
    force, deflection
        On one time grid, each turned so that its own peak is positive.

    Returns
    -------
    float
        In [0, 1] for a loop that dissipates.

    Raises
    ------
    SignalError
        No work is done on loading.

    References
    ----------
    .. [1] 49 CFR 572.34, see :func:`correlate.criteria.curve_measures.internal_hysteresis`.
    """
    step_s = float((force.time[-1] - force.time[0]) / (force.time.size - 1))
    return internal_hysteresis(force.values, deflection.values, step_s=step_s).value

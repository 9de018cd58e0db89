"""The model's channel under the code of the test channel that it stands for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.conditioning import shift_time
from correlate.criteria.channels import coded
from correlate.evaluation.matching import model_channel

if TYPE_CHECKING:
    from correlate.evaluation.tables import ChannelPlan
    from correlate.formats import Recording
    from correlate.signal import Signal


def coded_channel(plan: ChannelPlan, recording: Recording) -> Signal:
    """Return the model's channel of a plan under the code of the test channel, shifted and signed alike.

    Parameters
    ----------
    plan
        Its test channel has a code.
    recording
        Of the model.

    Returns
    -------
    Signal
        Every step is in its history.

    Raises
    ------
    ChannelError
        As of :func:`model_channel`.
    """
    shifted = shift_time(model_channel(plan, recording), plan.model_shift_ms / 1e3)
    return coded(shifted, plan.test, turned=plan.test_sign * plan.model_sign == -1)

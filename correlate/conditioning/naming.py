"""Assigning channel codes to channels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.channel import is_channel_code
from correlate.conditioning.align import turn_sign
from correlate.errors import ChannelError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

NAME_STEP: Final = "name channel"
"""Name of the step that assigns a code, in the history of a channel."""


def coded(signal: Signal, code: str, *, turned: bool) -> Signal:
    """Return a channel under a channel code, with its sign changed if its polarity is opposite.

    Parameters
    ----------
    signal
        Any channel.
    code
        16-character channel code.
    turned
        Whether the polarity of the channel is opposite to the code's.

    Returns
    -------
    Signal

    Raises
    ------
    ChannelError
        The code is not a channel code.
    """
    if not is_channel_code(code):
        raise ChannelError(
            f"'{code}' is not a channel code",
            where=f"name of channel '{signal.channel}'",
            remedy="give 16 characters, for instance D0HEAD0000KMACXP",
        )
    named = signal
    if signal.channel != code:
        named = signal.then(Step(NAME_STEP, {"from": signal.channel, "to": code}), channel=code)
    return turn_sign(named) if turned else named

"""Repeats, ceiling and corridor of channels as one JSON object."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from correlate.statistics import LEVEL
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.reference.channel_repeats import ChannelRepeats
    from correlate.reference.repeatability import Ceiling, RatedAgainstRepeats


def repeats_json(channels: Sequence[ChannelRepeats]) -> str:
    """Return what is known of the repeats of channels as JSON text.

    Parameters
    ----------
    channels
        One or more.

    Returns
    -------
    str
    """
    content = {"channels": [_channel(channel) for channel in channels], "version": VERSION}
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def _channel(channel: ChannelRepeats) -> dict[str, Any]:
    repeats, corridor, inside = channel.repeats, channel.corridor, channel.inside
    return {
        "load_case": channel.load_case,
        "channel": repeats.channel,
        "unit": repeats.unit,
        "repeats": list(repeats.names),
        "shifts_s": list(repeats.shifts_s),
        "largest_standard_deviation": float(repeats.standard_deviation.max()),
        "ceiling": _ceiling(channel.ceiling),
        "corridor": None
        if corridor is None
        else {"kind": corridor.kind, "assumptions": list(corridor.assumptions)},
        "release": channel.release,
        "model": None if channel.model is None else _model(channel.model),
        "share_inside": None if inside is None else inside.share,
        "outside_s": None if inside is None else [list(span) for span in inside.outside_s],
    }


def _ceiling(ceiling: Ceiling) -> dict[str, Any]:
    return {
        "median": ceiling.median,
        "lowest": ceiling.lowest,
        "highest": ceiling.highest,
        "ratings": list(ceiling.ratings),
        "in_words": ceiling.in_words,
    }


def _model(model: RatedAgainstRepeats) -> dict[str, Any]:
    estimate = model.estimate
    return {
        "mean": model.mean,
        "ratings": list(model.ratings),
        "interval": None
        if estimate is None
        else {
            "low": estimate.lower(),
            "high": estimate.upper(),
            "level": LEVEL,
            "method": "Student's t over the repeats",
        },
        "share_of_ceiling": model.share_of_ceiling,
        "loss_ratio": model.loss_ratio,
        "in_words": model.in_words,
    }

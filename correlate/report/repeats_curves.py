"""The curves of repeats for other programs: mean, scatter, corridor, every repeat, and the model."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.plots.wording import milliseconds, step_words
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.channel_repeats import ChannelRepeats
    from correlate.reference.corridor import Corridor

    Floats = NDArray[np.float64]


def curves_of(channel: ChannelRepeats) -> dict[str, Floats]:
    """Return the curves of a channel by name, in its unit, on the grid of ``time_s``.

    Mean, standard deviation, ``lower`` and ``upper`` edge of the corridor and the repeats are aligned. A
    model, and the corridor at the recorded times that it is compared with, follow where there is one. Where
    a corridor or model does not reach, there is no number (NaN).
    """
    repeats = channel.repeats
    time_s = repeats.time_s
    found = {"time_s": time_s, "mean": repeats.mean, "standard_deviation": repeats.standard_deviation}
    if channel.corridor is not None:
        found |= {"lower": channel.corridor.lower, "upper": channel.corridor.upper}
    found |= {f"repeat {number}": curve for number, curve in enumerate(repeats.curves, start=1)}
    if channel.drawn[0] is channel.recorded and channel.compared_with is not None:
        found |= _compared(channel.compared_with, time_s)
    if channel.candidate is not None:
        model = channel.candidate
        found["model"] = np.interp(time_s, model.time_s, model.samples, left=math.nan, right=math.nan)
    return found


def _compared(corridor: Corridor, time_s: Floats) -> dict[str, Floats]:
    return {
        f"compared_{name}": np.interp(time_s, corridor.time_s, edge, left=math.nan, right=math.nan)
        for name, edge in (("lower", corridor.lower), ("upper", corridor.upper))
    }


def curves_json(channel: ChannelRepeats) -> dict[str, Any]:
    """Return the curves as lists; None where there is no number."""
    return {
        name: [None if math.isnan(value) else value for value in curve.tolist()]
        for name, curve in curves_of(channel).items()
    }


def origins_json(channel: ChannelRepeats) -> list[dict[str, Any]]:
    """Return file, hash, steps and moves of every repeat."""
    repeats = channel.repeats
    return [
        {
            "file": signal.source.file,
            "sha256": signal.source.sha256,
            "steps": [" ".join(step_words(step)).strip() for step in signal.history],
            "shift_s": shift_s,
        }
        for signal, shift_s in zip(repeats.signals, repeats.shifts_s, strict=True)
    ]


def landmarks_json(channel: ChannelRepeats) -> list[dict[str, Any]]:
    """Return the features that were brought to common times, and where each repeat has them."""
    return [
        {"kind": one.kind, "common_s": one.common, "own_s": list(one.own)}
        for one in channel.repeats.landmarks
    ]


def curves_csv(channels: Sequence[ChannelRepeats], *, title: str) -> str:
    """Return the curves of all channels as one table, with settings, moves and hashes in comments before it.

    Parameters
    ----------
    channels
        One or more.
    title
        First line.

    Returns
    -------
    str
        Comma-separated, with a column ``channel``; a cell is empty where there is no number.
    """
    tables = [(channel, curves_of(channel)) for channel in channels]
    columns = list(dict.fromkeys(name for _, table in tables for name in table))
    text = io.StringIO()
    for line in (f"{title}; correlate {VERSION}", *(line for one in channels for line in _comments(one))):
        # A line break in a name must not end the comment.
        text.write(f"# {' '.join(line.split())}\n")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["channel", *columns])
    for channel, table in tables:
        size = table["time_s"].size
        cells = [table.get(name, np.full(size, math.nan)).tolist() for name in columns]
        for row in zip(*cells, strict=True):
            values = ["" if math.isnan(value) else f"{value:.10g}" for value in row]
            writer.writerow([channel.repeats.channel, *values])
    return text.getvalue()


def _comments(channel: ChannelRepeats) -> Iterator[str]:
    repeats, name = channel.repeats, channel.repeats.channel
    yield f"{name}: unit {repeats.unit}"
    if channel.corridor is not None:
        assumed = "; ".join(channel.corridor.assumptions)
        yield f"{name}: lower and upper are {channel.corridor.kind}; {assumed}"
    if channel.drawn[0] is channel.recorded and channel.compared_with is not None:
        yield f"{name}: compared_lower and compared_upper are {channel.compared_with.kind}, as recorded"
    for number, (signal, shift_s) in enumerate(zip(repeats.signals, repeats.shifts_s, strict=True), start=1):
        steps = ", ".join(" ".join(step_words(step)).strip() for step in signal.history)
        yield (
            f"{name}: repeat {number} is {signal.source.file}, sha256 {signal.source.sha256 or 'none'}, "
            f"moved by {milliseconds(round(shift_s, 9))}; {steps or 'as recorded'}"
        )
    for one in repeats.landmarks:
        own = ", ".join(milliseconds(round(place, 7)) for place in one.own)
        yield f"{name}: {one.kind} brought to {milliseconds(round(one.common, 7))}; in the repeats at {own}"

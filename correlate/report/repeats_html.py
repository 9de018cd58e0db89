"""Repeats, ceiling and corridor of channels as a page that needs no other file and no network."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate.plots.graph import figure_html
from correlate.plots.repeats import repeats_figure
from correlate.plots.wording import channel_title, milliseconds, unit_words
from correlate.report.html import render_page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.reference.channel_repeats import ChannelRepeats


def repeats_html(channels: Sequence[ChannelRepeats], *, title: str) -> str:
    """Write repeats as a page: one picture a channel, with scatter, ceiling and the model's rating.

    Parameters
    ----------
    channels
        One or more.
    title
        Heading.

    Returns
    -------
    str
        A whole HTML document. Every text that comes from a file is escaped.
    """
    return render_page("repeats.html", title=title, channels=[_channel(channel) for channel in channels])


def _channel(channel: ChannelRepeats) -> dict[str, Any]:
    repeats = channel.repeats
    figure = repeats_figure(repeats, theme="light", corridor=channel.corridor, model=channel.candidate)
    return {
        "channel": channel,
        "title": channel_title(repeats.channel),
        "moves": [
            (Path(name).stem, milliseconds(shift))
            for name, shift in zip(repeats.names, repeats.shifts_s, strict=True)
        ],
        "spread": f"{repeats.standard_deviation.max():.3g} {unit_words(repeats.unit)}",
        "inside": "" if channel.inside is None else f"{channel.inside.share:.0%}",
        "figure": figure_html(figure),
    }

"""Repeats, ceiling and corridor of channels in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.table import Table

from correlate.plots.wording import CAUTION, channel_title, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.reference.channel_repeats import ChannelRepeats


def print_repeats(console: Console, channels: Sequence[ChannelRepeats]) -> None:
    """Print one line a channel: scatter, ceiling, and the model beside it.

    Parameters
    ----------
    console
        Where to.
    channels
        One or more.
    """
    with_model = any(channel.model is not None for channel in channels)
    with_names = any(channel.load_case for channel in channels)
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in (["load case"] if with_names else []) + ["channel"]:
        table.add_column(heading, min_width=14)
    for heading in ("repeats", "shifts", "SD", "ceiling", "range"):
        table.add_column(heading, justify="right", no_wrap=True)
    if with_model:
        table.add_column("release")
        for heading in ("model", "95 %", "of ceiling", "inside"):
            table.add_column(heading, justify="right")
    for channel in channels:
        table.add_row(*_row(channel, with_names=with_names, with_model=with_model))
    console.print(table)
    for words in _assumptions(channels):
        console.print(f"corridor: {words}", style="dim")
    console.print(
        "SD: its largest value over time; inside: share of the model inside the corridor.", style="dim"
    )
    console.print(
        "The ceiling is how well the hardware agrees with itself, rated with the settings of the model.",
        style="dim",
    )
    console.print(CAUTION, style="dim")


def _row(channel: ChannelRepeats, *, with_names: bool, with_model: bool) -> list[str]:
    repeats, ceiling = channel.repeats, channel.ceiling
    moves = [shift * 1e3 for shift in repeats.shifts_s]
    row = [channel.load_case] if with_names else []
    row += [
        channel_title(repeats.channel),
        str(len(repeats)),
        f"{min(moves):.1f} to {max(moves):.1f} ms" if any(moves) else "0",
        f"{repeats.standard_deviation.max():.3g} {unit_words(repeats.unit)}" if len(repeats) > 1 else "",
        "too few" if ceiling.median is None else f"{ceiling.median:.3f}",
        "" if ceiling.lowest is None else f"{ceiling.lowest:.3f}–{ceiling.highest:.3f}",
    ]
    return [*row, channel.release, *_model(channel)] if with_model else row


def _model(channel: ChannelRepeats) -> tuple[str, str, str, str]:
    model, inside = channel.model, channel.inside
    if model is None:
        return "", "", "", ""
    return (
        f"{model.mean:.3f}",
        "too few" if model.interval is None else f"{model.interval.low:.3f}–{model.interval.high:.3f}",
        "" if model.share_of_ceiling is None else f"{model.share_of_ceiling:.0%}",
        "" if inside is None else f"{inside.share:.0%}",
    )


def _assumptions(channels: Sequence[ChannelRepeats]) -> list[str]:
    seen: dict[str, None] = {}
    for channel in channels:
        if channel.corridor is not None:
            seen[channel.corridor.kind] = None
            seen |= dict.fromkeys(channel.corridor.assumptions)
    return list(seen)

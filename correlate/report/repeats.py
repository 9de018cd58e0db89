"""Repeats in the terminal and as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from rich.text import Text

from correlate.plots.wording import CAUTION, channel_title, unit_words
from correlate.report.table import TextTable
from correlate.statistics import LEVEL
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.reference.repeatability import Ceiling, RatedAgainstRepeats
    from correlate.reference.repeats import ChannelRepeats


def repeats_json(channels: Sequence[ChannelRepeats]) -> str:
    """Return what is known of the repeats of channels as JSON text."""
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


def print_repeats(console: Console, channels: Sequence[ChannelRepeats]) -> None:
    """Print one line per channel: scatter and ceiling, and below them the models beside the ceilings."""
    console.print(_hardware(channels))
    if any(channel.model is not None for channel in channels):
        console.print()
        console.print(_models(channels))
    console.print()
    for words in _assumptions(channels):
        console.print(f"corridor: {words}", style="dim")
    console.print(
        "SD: its largest value over time; inside: share of the model inside the corridor.", style="dim"
    )
    console.print(
        "The ceiling is the repeatability of the hardware, rated with the settings of the model.",
        style="dim",
    )
    console.print(CAUTION, style="dim")


def _hardware(channels: Sequence[ChannelRepeats]) -> TextTable:
    """Return a table with every channel once."""
    table = _table("repeats", "shifts [ms]", "SD", "ceiling", "range")
    once = {(channel.load_case, channel.repeats.channel): channel for channel in channels}
    load_case = ""
    for channel in once.values():
        load_case = _titled(table, channel, load_case)
        repeats, ceiling = channel.repeats, channel.ceiling
        moves = [shift * 1e3 for shift in repeats.shifts_s]
        table.add_row(
            Text(channel_title(channel.repeats.channel)),
            str(len(repeats)),
            f"{min(moves):.1f} to {max(moves):.1f}" if any(moves) else "0",
            f"{repeats.standard_deviation.max():.3g} {unit_words(repeats.unit)}" if len(repeats) > 1 else "",
            "too few" if ceiling.median is None else f"{ceiling.median:.3f}",
            "" if ceiling.lowest is None else f"{ceiling.lowest:.3f}–{ceiling.highest:.3f}",
        )
    return table


def _models(channels: Sequence[ChannelRepeats]) -> TextTable:
    table = _table("release", "model", "95 % interval", "of ceiling", "loss ratio", "inside")
    load_case = ""
    for channel in channels:
        model, inside = channel.model, channel.inside
        if model is None:
            continue
        load_case = _titled(table, channel, load_case)
        estimate = model.estimate
        table.add_row(
            Text(channel_title(channel.repeats.channel)),
            Text(channel.release),
            f"{model.mean:.3f}",
            "too few" if estimate is None else f"{estimate.lower():.3f}–{estimate.upper():.3f}",
            "too few" if model.share_of_ceiling is None else f"{model.share_of_ceiling:.0%}",
            "–" if model.loss_ratio is None else f"{model.loss_ratio:.1f} ×",
            "" if inside is None else f"{inside.share:.0%}",
        )
    return table


def _table(*headings: str) -> TextTable:
    table = TextTable()
    table.add_column("channel")
    for heading in headings:
        table.add_column(heading, justify="right")
    return table


def _titled(table: TextTable, channel: ChannelRepeats, before: str) -> str:
    """Add a row with the load case where a new one begins, and return its name."""
    if channel.load_case != before:
        table.add_row(Text(channel.load_case, style="bold"))
    return channel.load_case


def _assumptions(channels: Sequence[ChannelRepeats]) -> list[str]:
    seen: dict[str, None] = {}
    for channel in channels:
        if channel.corridor is not None:
            seen[channel.corridor.kind] = None
            seen |= dict.fromkeys(channel.corridor.assumptions)
    return list(seen)

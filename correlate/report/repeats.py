"""Repeats in the terminal and as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from rich.text import Text

from correlate.plots.laboratory_words import cross_plot_words, unlike_words
from correlate.plots.wording import CAUTION, channel_title, unit_words
from correlate.reference.repeat_numbers import repeat_numbers
from correlate.report.repeats_curves import curves_json, landmarks_json, origins_json
from correlate.report.table import TextTable
from correlate.statistics import LEVEL
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rich.console import Console

    from correlate.reference.channel_repeats import ChannelRepeats
    from correlate.reference.cross_plot import ChannelCrossPlot
    from correlate.reference.repeat_numbers import RepeatNumbers
    from correlate.reference.repeatability import Ceiling, RatedAgainstRepeats
    from correlate.reference.whole_curve import UnlikeRepeats


def repeats_json(channels: Sequence[ChannelRepeats], cross_plots: Sequence[ChannelCrossPlot] = ()) -> str:
    """Return what is known of the repeats of channels as JSON text."""
    content = {
        "channels": [_channel(channel) for channel in channels],
        "cross_plots": [_cross_plot(one) for one in cross_plots],
        "version": VERSION,
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def _channel(channel: ChannelRepeats) -> dict[str, Any]:
    repeats, corridor, inside = channel.repeats, channel.corridor, channel.inside
    return {
        "load_case": channel.load_case,
        "channel": repeats.channel,
        "unit": repeats.unit,
        "repeats": list(repeats.names),
        "shifts_s": list(repeats.shifts_s),
        "landmarks": landmarks_json(channel),
        "origins": origins_json(channel),
        **_scatter(repeat_numbers(repeats, channel.ceiling)),
        "unlike": None if channel.unlike is None else _unlike(channel.unlike),
        "ceiling": _ceiling(channel.ceiling),
        "corridor": None
        if corridor is None
        else {"kind": corridor.kind, "assumptions": list(corridor.assumptions)},
        "release": channel.release,
        "model": None if channel.model is None else _model(channel.model),
        "compared_with": None if channel.compared_with is None else channel.compared_with.kind,
        "share_inside": None if inside is None else inside.share,
        "outside_s": None if inside is None else [list(span) for span in inside.outside_s],
        "repeats_inside": [one.share for one in channel.repeats_inside],
        "curves": curves_json(channel),
    }


def _cross_plot(plot: ChannelCrossPlot) -> dict[str, Any]:
    deviation, corridor = plot.deviation, plot.corridor
    return {
        "x_channel": plot.x_channel,
        "y_channel": plot.y_channel,
        "assumptions": list(corridor.assumptions),
        "scales": [corridor.x_scale, corridor.y_scale],
        "path": {name: getattr(corridor, name).tolist() for name in ("share", "x", "y", "x_half", "y_half")},
        "share_inside": plot.share_inside,
        "deviation": None
        if deviation is None
        else {
            "mean": deviation.mean,
            "rms": deviation.rms,
            "largest": deviation.largest,
            "from_mean": deviation.from_mean.tolist(),
            "from_candidate": deviation.from_candidate.tolist(),
        },
    }


def _scatter(numbers: RepeatNumbers) -> dict[str, Any]:
    return {
        "largest_standard_deviation": numbers.largest_spread or 0.0,
        "mean_standard_deviation": numbers.mean_spread,
        "largest_standard_deviation_over_peak": numbers.relative_spread,
        "peak_variation": numbers.peak_variation,
        "variation_class": numbers.variation_class,
    }


def _unlike(unlike: UnlikeRepeats) -> dict[str, Any]:
    return {
        "distances": list(unlike.distances),
        "p_values": list(unlike.p_values),
        "repeats": [place + 1 for place in unlike.unlike()],
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


def print_repeats(
    console: Console, channels: Sequence[ChannelRepeats], cross_plots: Sequence[ChannelCrossPlot] = ()
) -> None:
    """Print one line per channel: ceiling, then scatter, then the models beside the ceilings."""
    console.print(_hardware(channels))
    if any(len(channel.repeats) > 1 for channel in channels):
        console.print()
        console.print(_spread(channels))
    if any(channel.model is not None for channel in channels):
        console.print()
        console.print(_models(channels))
    console.print()
    for words in (*_published(channels), *map(cross_plot_words, cross_plots)):
        console.print(Text(words))
    for words in _assumptions(channels):
        console.print(f"corridor: {words}", style="dim")
    for channel in channels:
        if channel.unlike is not None and channel.unlike.unlike():
            title = channel_title(channel.repeats.channel)
            console.print(f"{title}: unlike the other repeats: {unlike_words(channel.unlike)}", style="bold")
    console.print(
        "Largest SD: over time, and as a share of the peak of the mean curve. CV: coefficient of variation, "
        "excellent up to 5 %, good up to 8 %, acceptable up to 10 %. Inside: share of the model inside the "
        "corridor, all at the recorded times, as rated.",
        style="dim",
    )
    console.print(
        "The ceiling is the repeatability of the hardware, rated with the settings of the model.",
        style="dim",
    )
    console.print(CAUTION, style="dim")


def _hardware(channels: Sequence[ChannelRepeats]) -> TextTable:
    """Return a table with every channel once."""
    table = _table("repeats", "shifts [ms]", "ceiling", "range")
    load_case = ""
    for channel in _once(channels):
        load_case = _titled(table, channel, load_case)
        repeats, ceiling = channel.repeats, channel.ceiling
        moves = [shift * 1e3 for shift in repeats.shifts_s]
        table.add_row(
            Text(channel_title(channel.repeats.channel)),
            str(len(repeats)),
            f"{min(moves):.1f} to {max(moves):.1f}" if any(moves) else "0",
            "too few" if ceiling.median is None else f"{ceiling.median:.3f}",
            "" if ceiling.lowest is None else f"{ceiling.lowest:.3f}–{ceiling.highest:.3f}",
        )
    return table


def _once(channels: Sequence[ChannelRepeats]) -> list[ChannelRepeats]:
    """Return every channel once, however many releases it is compared with."""
    return list({(one.load_case, one.repeats.channel): one for one in channels}.values())


def _spread(channels: Sequence[ChannelRepeats]) -> TextTable:
    """Return a table with the scatter of every channel of several repeats."""
    table = _table("largest SD", "of the peak", "CV of the peak", "class")
    load_case = ""
    for channel in _once(channels):
        numbers = repeat_numbers(channel.repeats, channel.ceiling)
        if numbers.largest_spread is None:
            continue
        load_case = _titled(table, channel, load_case)
        table.add_row(
            Text(channel_title(channel.repeats.channel)),
            f"{numbers.largest_spread:.3g} {unit_words(channel.repeats.unit)}",
            _per_cent(numbers.relative_spread),
            _per_cent(numbers.peak_variation),
            numbers.variation_class or "–",
        )
    return table


def _per_cent(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.1f} %"


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


def _published(channels: Sequence[ChannelRepeats]) -> Iterator[str]:
    """Say how much of every repeat is inside a published corridor."""
    for channel in channels:
        if channel.repeats_inside and channel.compared_with is not None:
            title, kind = channel_title(channel.repeats.channel), channel.compared_with.kind
            yield f"{title}: repeats inside {kind}: " + ", ".join(
                f"{one.share:.0%}" for one in channel.repeats_inside
            )


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
        _, corridor = channel.drawn
        if corridor is not None:
            seen[corridor.kind] = None
            seen |= dict.fromkeys(corridor.assumptions)
    return list(seen)

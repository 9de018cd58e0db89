"""``correlate repeats``: scatter, corridor and ceiling of repeats, and the model beside them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.data import warn_of_set_aside
from correlate.cli.layouts import layouts_option, loaded_layouts
from correlate.errors import ChannelError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.conditioning import Recipe
    from correlate.formats import Recording
    from correlate.reference.channel_repeats import ChannelRepeats
    from correlate.reference.corridor import Corridor
    from correlate.reference.cross_plot import ChannelCrossPlot
    from correlate.reference.published_corridor import PublishedCorridor
    from correlate.reference.repeats import RepeatSet
    from correlate.signal import Signal

CORRIDORS = ("sd", "range", "instant", "whole")
"""Corridors that can be shown."""


@click.command()
@click.argument("data", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--channel",
    "names",
    multiple=True,
    metavar="NAME",
    help="Channel; may be repeated.  [default: all that every repeat has]",
)
@click.option(
    "--over", metavar="NAME", help="Also plot each channel over this one: cross-plot with corridor."
)
@click.option("--model", type=click.Path(path_type=Path), metavar="FILE", help="Rate a model against them.")
@click.option("--model-channel", metavar="NAME", help="Channel of the model, for a single --channel.")
@click.option("--turn-sign", is_flag=True, help="Invert the sign of the model.")
@click.option("--cfc", type=int, metavar="CLASS", help="Filter all: 60, 180, 600 or 1000.")
@click.option("--from", "from_ms", type=float, metavar="MS", help="Start of the interval.")
@click.option("--to", "to_ms", type=float, metavar="MS", help="End of the interval.")
@click.option(
    "--offset",
    "offset_ms",
    type=float,
    nargs=2,
    metavar="MS MS",
    help="Window before the event whose mean is subtracted from the tests.",
)
@click.option(
    "--corridor",
    type=click.Choice(CORRIDORS),
    default="sd",
    show_default=True,
    help="Mean ± SD, least to largest, or 95 % of further tests: at each instant, or whole curves.",
)
@click.option("--times", type=float, help="Half width of 'sd' and of cross-plots in SD.  [default: 1]")
@click.option(
    "--published",
    "published_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Compare with a corridor given as points (TOML or CSV).",
)
@click.option(
    "--largest-shift",
    "largest_shift_ms",
    type=float,
    default=2.0,
    show_default=True,
    metavar="MS",
    help="Bound of the alignment of repeats; 0 for none.",
)
@click.option(
    "--features",
    "features_ms",
    type=click.FloatRange(min=0.0),
    default=0.0,
    show_default=True,
    metavar="MS",
    help="Largest move that brings peaks and zero crossings to common times; 0 for none.",
)
@layouts_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--csv", "csv_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write the curves."
)
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
def repeats_command(
    *,
    data: tuple[Path, ...],
    names: tuple[str, ...],
    over: str | None,
    model: Path | None,
    model_channel: str | None,
    turn_sign: bool,
    cfc: int | None,
    from_ms: float | None,
    to_ms: float | None,
    offset_ms: tuple[float, float] | None,
    corridor: str,
    times: float | None,
    published_file: Path | None,
    largest_shift_ms: float,
    features_ms: float,
    layout_files: tuple[Path, ...],
    as_json: bool,
    csv_file: Path | None,
    html_file: Path | None,
) -> None:
    """Show the scatter and repeatability of DATA, the repeats of one load case.

    The ceiling of a channel is the median rating of each repeat against the others. With --model, the
    model's rating is shown beside it, with an interval and the share of the model inside the corridor of the
    repeats at their recorded times.
    """
    from correlate.conditioning import Recipe
    from correlate.formats import read
    from correlate.formats.registry import tests_in
    from correlate.reference.channel_repeats import channel_repeats

    recipe = Recipe(
        cfc=cfc,
        start_s=None if from_ms is None else from_ms / 1e3,
        end_s=None if to_ms is None else to_ms / 1e3,
        reference_offset_window_s=None if offset_ms is None else (offset_ms[0] / 1e3, offset_ms[1] / 1e3),
        candidate_sign=-1 if turn_sign else 1,
    )
    half_width = _half_width(times, corridor, over)
    layouts = loaded_layouts(layout_files)
    tests = [read(path, layouts) for path in tests_in(data, layouts)]
    output = None if model is None else read(model, layouts)
    chosen = names or _shared(tests)
    published = None if published_file is None else _published(published_file, chosen)
    channels = [
        channel_repeats(
            [test.channel(name) for test in tests],
            _candidate(output, model_channel, chosen, name),
            recipe=recipe,
            band=_band(corridor, half_width),
            published=published.get(name) if published else None,
            largest_shift_s=largest_shift_ms / 1e3,
            largest_feature_move_s=features_ms / 1e3,
        )
        for name in chosen
    ]
    title = _title(tests, recipe)
    if csv_file is not None:
        from correlate.files import write_text
        from correlate.report.repeats_curves import curves_csv

        write_text(csv_file, curves_csv(channels, title=title))
    plots = [] if over is None else _cross_plots(tests, output, (over, chosen), recipe, half_width)
    report(channels, title=title, as_json=as_json, html_file=html_file, cross_plots=plots)


def _cross_plots(
    tests: Sequence[Recording],
    model: Recording | None,
    channels: tuple[str, Sequence[str]],
    recipe: Recipe,
    times: float,
) -> list[ChannelCrossPlot]:
    """Plot every channel over the first one named."""
    from correlate.reference.cross_plot import channel_cross_plot

    over, names = channels
    return [
        channel_cross_plot(
            across=[test.channel(over) for test in tests],
            upright=[test.channel(name) for test in tests],
            across_recipe=recipe,
            upright_recipe=recipe,
            times=times,
            model=None if model is None else (model.channel(over), model.channel(name)),
        )
        for name in names
        if name != over
    ]


def _half_width(times: float | None, corridor: str, over: str | None) -> float:
    """Return the half width in standard deviations; refuse one that nothing would use."""
    if times is None:
        return 1.0
    if corridor != "sd" and over is None:
        raise SettingsError(
            f"--times has no meaning for the corridor '{corridor}'",
            remedy="omit it, or choose --corridor sd",
        )
    return times


def _band(corridor: str, times: float) -> Callable[[RepeatSet], Corridor]:
    from functools import partial

    from correlate.reference.corridor import prediction_corridor, range_corridor, spread_corridor
    from correlate.reference.whole_curve import whole_curve_corridor

    bands: dict[str, Callable[[RepeatSet], Corridor]] = {
        "sd": partial(spread_corridor, times=times),
        "range": range_corridor,
        "instant": prediction_corridor,
        "whole": whole_curve_corridor,
    }
    return bands[corridor]


def _published(path: Path, chosen: Sequence[str]) -> dict[str, PublishedCorridor]:
    """Return a published corridor by the channel that it is for."""
    from correlate.reference.published_corridor import load_published_corridor

    corridor = load_published_corridor(path)
    if not corridor.channel and len(chosen) > 1:
        raise ChannelError(
            "the file names no channel, and the tests have several",
            where=str(path),
            remedy="select the channel with --channel, or name it under 'channel' in the file",
        )
    name = corridor.channel or chosen[0]
    if name not in chosen:
        raise ChannelError(
            f"the corridor is for channel '{name}', which is not shown",
            where=str(path),
            remedy=f"show it with --channel, or correct 'channel' in the file to one of {', '.join(chosen)}",
        )
    return {name: corridor}


def report(
    channels: Sequence[ChannelRepeats],
    *,
    title: str,
    as_json: bool,
    html_file: Path | None,
    cross_plots: Sequence[ChannelCrossPlot] = (),
) -> None:
    """Print the table or the object, and write the page."""
    if html_file is not None:
        from correlate.files import write_text
        from correlate.report.html import repeats_html

        write_text(html_file, repeats_html(channels, title=title, cross_plots=cross_plots))
    if as_json:
        from correlate.report.repeats import repeats_json

        click.echo(repeats_json(channels, cross_plots))
        return
    from rich.console import Console

    from correlate.report.repeats import print_repeats

    print_repeats(Console(highlight=False), channels, cross_plots)


def _shared(tests: Sequence[Recording]) -> tuple[str, ...]:
    """Return the channels that every repeat has; those that one cannot give are named."""
    for test in tests:
        warn_of_set_aside(test)
    shared = [name for name in tests[0].channel_names if all(name in test.channel_names for test in tests)]
    if not shared:
        raise ChannelError(
            "the repeats share no channel",
            where=f"{tests[0].path} to {tests[-1].path}, {len(tests)} tests",
            remedy="name repeats of one load case",
        )
    return tuple(shared)


def _candidate(
    recording: Recording | None, named: str | None, chosen: Sequence[str], name: str
) -> Signal | None:
    """Return the model's channel: the named one, the one called as in the tests, or the only one."""
    if recording is None:
        return None
    if named is not None:
        if len(chosen) > 1:
            raise ChannelError(
                "--model-channel names one channel and the tests have several",
                where=str(recording.path),
                remedy="name the one of the tests with --channel",
            )
        return recording.channel(named)
    if name in recording.all_names or len(recording.signals) != 1:
        return recording.channel(name)
    return recording.only_channel()


def _title(tests: Sequence[Recording], recipe: Recipe) -> str:
    from correlate.plots.wording import filter_words
    from correlate.reference.check import load_case_of

    return f"{load_case_of(tests[0])}: {len(tests)} repeats, {filter_words(recipe.cfc)}"

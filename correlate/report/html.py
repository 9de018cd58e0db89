"""Results as pages: a rated pair, the data check, repeats."""

from __future__ import annotations

from functools import cache
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate import version
from correlate.addresses import addressed
from correlate.plots.graph import drawing_library, figure_html
from correlate.plots.laboratory_words import cross_plot_words, repeatability_facts
from correlate.plots.pair import pair_figure
from correlate.plots.palette import FONT, LIGHT, font_face
from correlate.plots.repeats import cross_plot_figure, finding_figure, repeats_figure
from correlate.plots.wording import (
    CAUTION,
    COMPONENTS,
    channel_title,
    choice_words,
    delay_in_words,
    grade_zones,
    milliseconds,
    number,
    recipe_words,
    step_words,
    unit_words,
)
from correlate.reference.repeat_numbers import repeat_numbers
from correlate.report.check import CHECK_CAUTION

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from jinja2 import Environment

    from correlate.campaign import PairScore
    from correlate.reference.channel_repeats import ChannelRepeats
    from correlate.reference.check import CheckOutcome
    from correlate.reference.cross_plot import ChannelCrossPlot
    from correlate.reference.finding import Finding
    from correlate.signal import Signal

    Curves = Callable[[Finding], tuple[Signal, Sequence[Signal]]]


def pair_html(score: PairScore, title: str) -> str:
    """Write a pair as a page: rating, figure, settings, inputs and every step of both signals.

    Notes
    -----
    Every text that comes from a file is escaped. The page shows the numbers of ``score`` and computes none.
    """
    return render_page(
        "pair.html",
        title=title,
        rating=score.rating,
        zones=_zones(score.rating.grade),
        components=_components(score),
        shift=delay_in_words(score.rating.shift_s),
        flags=score.flags,
        settings=recipe_words(score.recipe, score.rating),
        choices=choice_words(score.rating.settings),
        inputs=[_input("Test", score.reference), _input("Model", score.candidate)],
        figure=figure_html(pair_figure(score, theme="light")),
    )


def render_page(template: str, **content: Any) -> str:
    """Fill a template that lies in this folder."""
    return (
        _environment()
        .get_template(template)
        .render(
            caution=CAUTION,
            library=drawing_library,
            colours=LIGHT.as_css(),
            font=FONT,
            font_face=font_face(),
            version=version.VERSION,
            **content,
        )
    )


def without_folder(page: str, folder: Path) -> str:
    """Return a page with file paths relative to a folder, so that the path of the project does not matter.

    Copies of objects are named by their addresses.
    """
    page = addressed(page)
    for root in dict.fromkeys((folder, folder.resolve())):
        # As it is, and as the templates write it.
        escaped = escape(f"{root}/").replace("&#x27;", "&#39;").replace("&quot;", "&#34;")
        for written in (f"{root}/", escaped):
            page = page.replace(written, "")
    return page


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - imports stay quick

    return Environment(
        loader=PackageLoader("correlate.report", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _components(score: PairScore) -> list[dict[str, Any]]:
    rating = score.rating
    return [
        {
            "name": name,
            "meaning": meaning,
            "value": getattr(rating, name),
            "weight": number(getattr(rating.settings.weights, name)),
        }
        for name, meaning in COMPONENTS.items()
    ]


def _zones(grade: str) -> list[dict[str, Any]]:
    return [
        {
            "word": word,
            "floor": number(floor),
            "from": floor,
            "size": ceiling - floor,
            "reached": word == grade,
        }
        for word, floor, ceiling in grade_zones()
    ]


def _input(role: str, signal: Signal) -> dict[str, Any]:
    return {
        "role": role,
        "title": channel_title(signal.channel),
        "signal": signal,
        "unit": unit_words(signal.unit),
        "steps": [step_words(step) for step in signal.history],
    }


MOST_FIGURES: Final = 40
"""Findings beyond these are listed without a picture."""


def check_html(outcome: CheckOutcome, *, title: str, curves: Curves | None = None) -> str:
    """Write a check as a page: findings with evidence and picture, figures of every channel."""
    return render_page(
        "check.html",
        title=title,
        words=outcome.in_words,
        check_caution=CHECK_CAUTION,
        findings=[
            _finding_row(finding, curves if i < MOST_FIGURES else None)
            for i, finding in enumerate(outcome.findings)
        ],
        waived=outcome.waived,
        unused=outcome.unused_waivers,
        channels=[
            {
                "item": item,
                "title": channel_title(item.channel),
                "test": Path(item.file).name,
                "unit": unit_words(item.unit),
            }
            for item in outcome.channels
        ],
        load_cases={name: [Path(test).name for test in tests] for name, tests in outcome.load_cases.items()},
    )


def _finding_row(finding: Finding, curves: Curves | None) -> dict[str, Any]:
    figure = ""
    if curves is not None and finding.channel and finding.kind not in {"missing channel", "set aside"}:
        signal, others = curves(finding)
        figure = figure_html(finding_figure(finding, signal, theme="light", others=others))
    return {
        "finding": finding,
        "title": channel_title(finding.channel),
        "test": Path(finding.file).name,
        "evidence": [(key.replace("_", " "), _number(value)) for key, value in finding.evidence.items()],
        "figure": figure,
    }


def _number(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.6g}"


def repeats_html(
    channels: Sequence[ChannelRepeats], *, title: str, cross_plots: Sequence[ChannelCrossPlot] = ()
) -> str:
    """Write repeats as a page: one picture a channel, with scatter, ceiling and the model's rating."""
    return render_page(
        "repeats.html",
        title=title,
        channels=[_channel_section(channel) for channel in channels],
        cross_plots=[_cross_plot_section(one) for one in cross_plots],
    )


def _cross_plot_section(plot: ChannelCrossPlot) -> dict[str, Any]:
    x, y = channel_title(plot.x_channel), channel_title(plot.y_channel)
    figure = cross_plot_figure(
        plot.corridor,
        plot.paths,
        theme="light",
        x_title=f"{x} [{unit_words(plot.x_unit)}]",
        y_title=f"{y} [{unit_words(plot.y_unit)}]",
        model=plot.model,
    )
    return {
        "title": f"{y} over {x}",
        "words": cross_plot_words(plot),
        "assumptions": plot.corridor.assumptions,
        "figure": figure_html(figure),
    }


def _channel_section(channel: ChannelRepeats) -> dict[str, Any]:
    repeats = channel.repeats
    drawn, corridor = channel.drawn
    figure = repeats_figure(drawn, theme="light", corridor=corridor, model=channel.candidate)
    return {
        "channel": channel,
        "title": channel_title(repeats.channel),
        "moves": [
            (Path(name).stem, milliseconds(shift))
            for name, shift in zip(repeats.names, repeats.shifts_s, strict=True)
        ],
        "facts": repeatability_facts(
            repeat_numbers(repeats, channel.ceiling), channel.ceiling, repeats.unit, channel.unlike
        ),
        "corridor": corridor,
        "repeats_inside": [
            (Path(name).stem, f"{one.share:.0%}")
            for name, one in zip(repeats.names, channel.repeats_inside, strict=False)
        ],
        "inside": "" if channel.inside is None else f"{channel.inside.share:.0%}",
        "figure": figure_html(figure),
    }

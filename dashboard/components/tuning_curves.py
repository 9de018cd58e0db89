"""Parts of the tuning page about emulated curves and predictions: sliders, ratings, tables, words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import dash_mantine_components as dmc
import numpy as np
from dash import html

from correlate import record_of
from correlate.plots import unit_words
from dashboard import ids
from dashboard.components.controls import head_row, labelled, number
from dashboard.components.tuning import TRUSTED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component
    from numpy.typing import NDArray

    from correlate import KeptPrediction, Rating, SavedEmulator, TuningOverview

    Floats = NDArray[np.float64]


OPEN_SLIDERS: Final = 4
"""Sliders that are shown; those of less influential parameters are collapsed."""
STEP: Final = 0.005
"""Of a slider, as a share of the range."""
_PARTS: Final = ("corridor", "phase", "magnitude", "slope")


def curves_words(overview: TuningOverview) -> list[Component]:
    """Return why there are no emulated curves, or that they are out of date; nothing where all is well."""
    if overview.fit is None:
        if overview.fit_problem:
            return [html.P("Emulated curves are part of the fit, which cannot be read.", className="note")]
        words = (
            "No curves have been emulated yet. A fit emulates the curve of each channel, which can then be "
            "shown for any parameter values without a run."
        )
        return [html.P(words)]
    if overview.curves is None:
        return [html.P(overview.curves_problem, className="job-failure")]
    if overview.fit_is_old:
        words = "The runs have changed since the fit; these curves were fitted to the earlier runs."
        return [html.P(words, className="job-failure")]
    return []


def trust_words(saved: SavedEmulator, place: int) -> list[Component]:
    """Return how far the emulator of a channel can be trusted."""
    trust = saved.trust(place)
    if np.isnan(trust.q2):
        words = "This channel is the same in every run: no parameter influences it."
        return [html.P(words, className="note")]
    words = (
        f"Curves of {trust.runs} runs, each predicted from the others: Q² {trust.q2:.2f}; "
        f"{trust.inside:.0%} of their samples are inside the 95 % band."
    )
    if trust.q2 >= TRUSTED:
        return [html.P(words, className="note")]
    return [html.P(f"{words} The emulator of this channel is not reliable.", className="job-failure")]


def sliders(
    saved: SavedEmulator, cube: Floats, marks: Mapping[str, Floats], order: Sequence[int]
) -> list[Component]:
    """Return a slider for each parameter, the most influential first, the rest collapsed.

    Parameters
    ----------
    saved
        The emulator.
    cube
        Where the sliders stand, in the unit cube, shape ``(d,)``.
    marks
        Points that are marked on each slider, by name.
    order
        Columns of the parameters.
    """
    found: list[Component] = [_slider(saved, place, float(cube[place]), marks) for place in order]
    rest = found[OPEN_SLIDERS:]
    if not rest:
        return found
    title = f"Less influential parameters ({len(rest)})"
    return [
        *found[:OPEN_SLIDERS],
        html.Details([html.Summary(title), html.Div(rest, className="more-sliders")]),
    ]


def _slider(saved: SavedEmulator, place: int, at: float, marks: Mapping[str, Floats]) -> html.Div:
    one = saved.space.parameters[place]
    name = one.name if one.unit == "1" else f"{one.name} [{unit_words(one.unit)}]"
    slider = dmc.Slider(
        id={"type": ids.TUNING_CURVE_SLIDER, "place": place},
        min=0,
        max=1,
        step=STEP,
        value=at,
        updatemode="drag",
        label=None,
        thumbLabel=name,
        attributes=spoken(saved, place, at),
        size=4,
        thumbSize=16,
        marks=[{"value": float(point[place])} for point in marks.values()],
    )
    value = html.Span(
        value_text(saved, place, at),
        id={"type": ids.TUNING_CURVE_VALUE, "place": place},
        className="line-number",
    )
    ends_text = html.Div(
        [html.Span(f"{one.lower:.4g}"), html.Span(f"{one.upper:.4g}")], className="slider-ends note"
    )
    words = html.Div([html.Span(name, className="slider-label"), value], className="slider-words")
    return html.Div([words, slider, ends_text], className="slider")


def spoken(saved: SavedEmulator, place: int, at: float) -> Any:
    """Return the attributes that let a screen reader announce the value, not the share of the range."""
    return {"thumb": {"aria-valuetext": value_text(saved, place, at)}}


def value_text(saved: SavedEmulator, place: int, at: float) -> str:
    """Return the value of a parameter at a share of its range."""
    cube = np.full(len(saved.space.parameters), 0.5)
    cube[place] = at
    return f"{saved.space.from_unit(cube)[place]:.4g}"


def predicted_rating(ratings: Mapping[str, Rating]) -> list[Component]:
    """Return the rating of an emulated curve, the mean over the tests, as a prediction."""
    if not ratings:
        return [html.P("This curve cannot be rated against the tests.", className="note")]
    values = [one.overall for one in ratings.values()]
    parts = [
        html.Span(
            [f"{name} ", html.Strong(f"{np.mean([getattr(one, name) for one in ratings.values()]):.2f}")],
            className="part-score",
        )
        for name in _PARTS
    ]
    spread = (
        f"{min(values):.3f} to {max(values):.3f} over {len(values)} tests" if len(values) > 1 else "1 test"
    )
    return [
        html.Div(
            [
                html.Span(f"{np.mean(values):.3f}", className="changed-overall"),
                html.Span("predicted", className="tag"),
            ],
            className="changed-numbers",
        ),
        html.Div(parts, className="part-scores"),
        html.P(f"{spread}. Rating of the emulated curve, not of a run.", className="note"),
    ]


def rated_runs(overview: TuningOverview, load_case: str, channel: str) -> Component:
    """Return the ratings of the run at the start point and of the best run in a channel."""
    values = overview.table.outcomes.get(f"channel/{load_case}/{channel}")
    rows = (("run at the start point", overview.start), ("best run", overview.best))
    lines = [
        html.Div(
            [
                html.Dt(f"{words} {overview.table.identities[row]}"),
                html.Dd(number(None if values is None else float(values[row]))),
            ]
        )
        for words, row in rows
        if row is not None
    ]
    return html.Dl(lines, className="rated-runs", **labelled("Rated runs"))


def moves_words(saved: SavedEmulator, drawn: Sequence[int], shown: str) -> str:
    """Return what the figure of the sensitivity over time shows, and what it leaves out."""
    words = (
        "Change of the mean curve when a parameter goes from its lower to its upper bound."
        if shown == "change"
        else "Share of the variance that a parameter explains alone (first-order Sobol' index); "
        "blank where the curves hardly differ."
    )
    words += (
        " Computed with the emulator, the other parameters varying over their whole ranges. "
        "Above: spread of the curve (standard deviation)."
    )
    left = len(saved.space.parameters) - len(drawn)
    return f"{words} Not shown: {left} that explain less than 5 % at all times." if left else words


def kept_words(found: Sequence[KeptPrediction], proposed: int) -> str:
    """Return how accurate the predictions of one outcome were, or why that is not known."""
    record = record_of(found)
    if record is None:
        if proposed:
            return "Runs were proposed, but none of them is finished yet."
        return (
            "Nothing has been proposed yet. Predictions are saved with every batch of "
            "'correlate tune propose', and compared here once the runs are rated."
        )
    side = "higher" if record.mean_error > 0 else "lower"
    return (
        f"{record.inside} of {record.runs} runs are inside their predicted 95 % intervals. "
        f"On average they were rated {abs(record.mean_error):.3f} {side} than predicted; the root "
        f"mean square error is {record.root_mean_square_error:.3f}."
    )


def kept_table(found: Sequence[KeptPrediction]) -> html.Table:
    """Return the accuracy of the predictions of each round."""
    columns = (
        ("round", "name"),
        ("runs", "number"),
        ("inside 95 %", "number"),
        ("mean error", "number"),
        ("error (rms)", "number"),
    )
    rows = []
    for round_number in dict.fromkeys(one.round for one in found):
        record = record_of([one for one in found if one.round == round_number])
        assert record is not None  # noqa: S101 - the round has one
        cells = (
            str(record.runs),
            f"{record.inside} ({record.inside / record.runs:.0%})",
            f"{record.mean_error:+.3f}".replace("-", "−"),
            f"{record.root_mean_square_error:.3f}",
        )
        rows.append(
            html.Tr(
                [
                    html.Th(str(round_number), scope="row", className="cell-name"),
                    *(html.Td(text, className="cell-number") for text in cells),
                ]
            )
        )
    return html.Table([head_row(columns), html.Tbody(rows)], className="lines kept-table")

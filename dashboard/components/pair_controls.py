"""Controls of the pair page, and what they changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import COMPONENTS, MOST_OTHERS, signed
from correlate.plots.explanation_words import change_words
from dashboard import ids
from dashboard.components import pair_ids
from dashboard.components.controls import labelled, menu, number
from dashboard.components.pictures import picture_menu, picture_said

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import CurveChange, MeanRating


_LIST: Final[dict[str, Any]] = {"shadow": "md", "transitionProps": {"duration": 0}}
_SLIDER: Final[dict[str, Any]] = {
    "marks": None,
    "updatemode": "mouseup",
    "tooltip": {"always_visible": False},
}


def pair_controls(parts: Mapping[str, str]) -> html.Aside:
    """Return the menus, empty until the campaign is read."""
    unfold: dict[str, Any] = {"aria-expanded": "false", "aria-controls": ids.CONTROLS}
    return html.Aside(
        [
            html.Button(
                "Change selection", id=pair_ids.UNFOLD, type="button", className="button unfold", **unfold
            ),
            html.Section(
                [
                    html.H2("Pair"),
                    menu(ids.RELEASE, "Model release"),
                    menu(ids.CASE, "Load case"),
                    menu(ids.REPEAT, "Repeat of the test"),
                    menu(ids.CHANNEL, "Channel"),
                ]
            ),
            html.Section(
                [
                    html.H2("Filter and interval"),
                    menu(ids.CFC, "Channel frequency class"),
                    html.Div(
                        [_field(ids.START, "From [ms]"), _field(ids.END, "To [ms]")], className="interval"
                    ),
                    html.Div(id=ids.CHANGES, className="changes", role="status"),
                ],
                className="treatment",
            ),
            html.Section(
                [
                    html.H2("Overlay"),
                    dmc.MultiSelect(
                        id=pair_ids.OTHERS,
                        label=f"Further releases, up to {MOST_OTHERS}",
                        data=[],
                        value=[],
                        maxValues=MOST_OTHERS,
                        comboboxProps=_LIST,
                        clearable=True,
                        className="others",
                    ),
                    _parts(parts),
                ],
                className="beside",
            ),
        ],
        id=ids.CONTROLS,
        className="controls",
        **labelled("Selection"),
    )


def change_card() -> html.Section:
    """Return the sliders that change interval and curve, and the place of the rating that follows them."""
    return html.Section(
        [
            html.Div(
                [
                    html.H2("What if"),
                    html.Div(id=pair_ids.CHANGED, role="status", className="changed"),
                ],
                className="change-result",
            ),
            html.Div(
                [
                    _slider("Shift of the model [ms]", pair_ids.SHIFT, "positive: later", 0),
                    _slider("Scale of the model [1]", pair_ids.SCALE, "1: unchanged", 1),
                    _slider(
                        ["Offset of the model [", html.Span(id=pair_ids.OFFSET_UNIT), "]"],
                        pair_ids.OFFSET,
                        "added to the curve",
                        0,
                    ),
                    _interval(),
                ],
                className="sliders",
            ),
        ],
        className="card change-card",
        **labelled("What if the curve or the interval were different"),
    )


def tools(*, may_download: bool) -> html.Div:
    """Return the buttons that hand something out of the page."""
    data = html.Button(
        "Save data", id=pair_ids.DATA, type="button", className="button", hidden=not may_download
    )
    return html.Div(
        [
            html.Div(id=pair_ids.WINDOW, className="window", role="status"),
            html.Div(
                [
                    *picture_menu("pair"),
                    data,
                ],
                className="buttons",
            ),
            html.Div(id=pair_ids.DOWNLOAD_PROBLEM, role="status", className="check-reason"),
            *picture_said("pair"),
            dcc.Download(id=pair_ids.DOWNLOAD),
        ],
        className="tools",
    )


def _parts(parts: Mapping[str, str]) -> dmc.CheckboxGroup:
    boxes = [dmc.Checkbox(label=words, value=name, size="sm") for name, words in parts.items()]
    return dmc.CheckboxGroup(
        html.Div(boxes, className="parts"), id=pair_ids.PARTS, value=[], label="Additional curves"
    )


def _slider(label: str | Sequence[str | Component], slider_id: str, hint: str, plain: float) -> html.Div:
    # Without a value a slider would report one of its own as if it had been moved.
    slider = dcc.Slider(id=slider_id, min=-1, max=1, step=0.01, value=plain, **_SLIDER)
    return _labelled_slider(label, slider, hint)


def _interval() -> html.Div:
    slider = dcc.RangeSlider(id=pair_ids.INTERVAL, min=0, max=1, step=0.1, value=[0, 1], **_SLIDER)
    return _labelled_slider("Interval of evaluation [ms]", slider, "what is rated")


def _labelled_slider(label: str | Sequence[str | Component], slider: Component, hint: str) -> html.Div:
    words = html.Div(
        [html.Span(label, className="slider-label"), html.Span(hint, className="note")],
        className="slider-words",
    )
    name = label if isinstance(label, str) else "Offset of the model"
    return html.Div([words, slider], className="slider", role="group", **labelled(f"{name}, {hint}"))


def _field(field_id: str, label: str) -> dmc.NumberInput:
    return dmc.NumberInput(id=field_id, label=label, debounce=True, hideControls=True, decimalScale=4)


def changed_words(
    rating: MeanRating,
    changed: MeanRating | None,
    change: CurveChange,
    unit: str,
    *,
    interval: str,
    back: str,
) -> list[Component]:
    """Return the rating after a change beside the one without it."""
    if changed is None:
        numbers = _numbers(rating)
        return [
            numbers,
            html.P(f"Unchanged, rated {interval}. Move a slider to update the rating.", className="note"),
        ]
    won = html.Span(f"{signed(changed.overall - rating.overall)} against {number(rating.overall)} unchanged")
    return [
        html.P([_numbers(changed), html.Span(won, className="won")], className="changed-line"),
        html.P(
            [
                f"Model {change_words(change, unit)}, rated {interval}. ",
                dcc.Link("Reset the curve", href=back),
            ],
            className="note",
        ),
        html.P("This is exploratory. It changes no data and no results.", className="note"),
    ]


def _numbers(rating: MeanRating) -> html.Span:
    parts = [
        html.Span([name, " ", html.Strong(f"{getattr(rating, name):.2f}")], className="part-score")
        for name in COMPONENTS
    ]
    return html.Span(
        [
            html.Span(number(rating.overall), className="changed-overall"),
            html.Span(rating.grade, className="changed-grade"),
            html.Span(parts, className="part-scores"),
        ],
        className="changed-numbers",
    )

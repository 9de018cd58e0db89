"""Why a pair loses rating."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import dcc, html

from correlate import largest_stretches
from correlate.plots import channel_title, number, signed, unit_words
from correlate.plots.explanation_words import (
    CHANGES,
    HINT_CAUTION,
    NO_HINT,
    change_words,
    hint_words,
    no_hints,
    points,
    shown_hints,
    stretch_words,
)
from dashboard.components.controls import NO_NUMBER, head_row, with_label

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from dash.development.base_component import Component

    from correlate import (
        CurveChange,
        FeatureDifference,
        Improvement,
        LossAccount,
        PairExplanation,
        Stretch,
        Suspect,
        WhatIf,
    )

    ToStretch = Callable[[Stretch], str]

    ToChange = Callable[[CurveChange], str]


_STRETCHES: Final = 5
_FEATURES: Final = 8


def reasons(
    found: PairExplanation,
    account: LossAccount,
    *,
    of_repeat: str,
    to_stretch: ToStretch,
    to_change: ToChange,
) -> list[Component]:
    """Return the reasons for the loss of a channel; with several repeats, most are those of one."""
    unit = found.score.reference.unit
    title = channel_title(found.score.reference.channel)
    return [
        *([_only_of(of_repeat)] if of_repeat else []),
        html.Section(_lost(account, to_stretch), className="card reason-lost"),
        html.Section(_what_if(found.what_if, unit, to_change), className="card reason-change"),
        html.Section(_suspects(found.suspects), className="card reason-suspects"),
        html.Section(_features(found.differences), className="card reason-features"),
        html.Section(_hints(found, {found.score.reference.channel: title}), className="card reason-hints"),
    ]


def _only_of(repeat: str) -> html.P:
    words = "; the points that are lost are the mean of all repeats."
    text = f"Changes, suspects, features and hints are those of repeat {repeat}, the nearest to the mean"
    return html.P(text + words, className="note reason-of")


def _lost(account: LossAccount, to_stretch: ToStretch) -> list[Component]:
    by_loss = sorted(account.by_component.items(), key=lambda item: -item[1])
    rows = [
        html.Tr(
            [
                html.Th(name, scope="row", className="cell-name"),
                html.Td(with_label("lost", f"{loss:.3f}"), className="cell-number"),
                html.Td(
                    "beyond the limit: score 0" if name in account.clamped else "", className="cell-words"
                ),
            ]
        )
        for name, loss in by_loss
    ]
    columns = [("component", "name"), ("points lost", "number"), ("", "words")]
    stretches = [
        html.Li(
            [
                dcc.Link(stretch_words(one), href=to_stretch(one)),
                f": {points(one.loss)}, mostly {one.mostly}",
            ]
        )
        for one in largest_stretches(account, _STRETCHES)
    ]
    return [
        html.H2(f"Where {points(account.total)} are lost"),
        html.Table([head_row(columns), html.Tbody(rows)], className="lines"),
        html.H3("Mostly in these time ranges"),
        html.Ul(stretches, className="stretches") if stretches else html.P("Evenly over time."),
    ]


def _what_if(found: WhatIf, unit: str, to_change: ToChange) -> list[Component]:
    columns = [("change", "name"), ("best", "words"), ("rating", "number"), ("gain", "number")]
    rows = [_change_row(name, getattr(found, name), unit, to_change) for name in CHANGES]
    return [
        html.H2("What a change of the whole curve would gain"),
        html.Table([head_row(columns), html.Tbody(rows)], className="lines changes-best"),
        html.P(
            "If one number recovers nearly everything, suspect a data-handling error: a time zero, a "
            "unit, an offset. If it recovers little, the error is in the model.",
            className="note",
        ),
    ]


def _change_row(name: str, best: Improvement, unit: str, to_change: ToChange) -> html.Tr:
    words = change_words(best.change, unit)
    # A slider for the stretch is not there: it is told and cannot be tried.
    tried = dcc.Link(words, href=to_change(best.change)) if words and best.change.stretch == 1 else None
    return html.Tr(
        [
            html.Th(name, scope="row", className="cell-name"),
            html.Td(tried or words or "none helps", className="cell-words"),
            html.Td(with_label("rating", f"{best.rating.overall:.3f}"), className="cell-number"),
            html.Td(with_label("gain", signed(best.gain)), className="cell-number"),
        ]
    )


def _suspects(found: Sequence[Suspect]) -> list[Component]:
    heading = html.H2("Suspected data-handling errors")
    if not found:
        none = "None: no known data-handling error explains the loss better than a model error."
        return [heading, html.P(none, className="check-clear")]
    return [heading, *(_suspect(one) for one in found), html.P(HINT_CAUTION, className="note")]


def _suspect(one: Suspect) -> html.Article:
    before = "not rated" if one.rating_before is None else f"{one.rating_before:.3f}"
    return html.Article(
        [
            html.H3(
                [
                    one.kind[:1].upper() + one.kind[1:],
                    html.Span(f"{before} → {one.rating_after:.3f}", className="gain"),
                ]
            ),
            html.P(one.evidence),
            html.P(["Remedy: ", one.fix], className="note"),
        ],
        className="finding",
    )


def _features(found: Sequence[FeatureDifference]) -> list[Component]:
    heading = html.H2("Features of both curves")
    if not found:
        return [heading, html.P("None can be determined: the model is zero throughout.")]
    columns = [("feature", "name"), ("test", "number"), ("model", "number"), ("difference", "number")]
    columns += [("unit", "unit"), ("explains", "number")]
    head = head_row(columns)
    told = [one for one in found if one.test is not None or one.model is not None]
    rest = (
        [
            html.Details(
                [
                    html.Summary(f"{len(told) - _FEATURES} more"),
                    html.Table(
                        [head, html.Tbody([_feature(one) for one in told[_FEATURES:]])],
                        className="lines features",
                    ),
                ]
            )
        ]
        if len(told) > _FEATURES
        else []
    )
    words = "Explains: rating gained if only this feature is corrected. These values do not add up."
    return [
        heading,
        html.Table(
            [head, html.Tbody([_feature(one) for one in told[:_FEATURES]])], className="lines features"
        ),
        *rest,
        html.P(words, className="note"),
    ]


def _feature(one: FeatureDifference) -> html.Tr:
    factor, unit = (1e3, "ms") if one.unit == "s" else (1.0, "" if one.unit == "1" else unit_words(one.unit))
    numbers = [("test", one.test), ("model", one.model), ("difference", one.difference)]
    explained = NO_NUMBER if one.explained is None else signed(one.explained)
    return html.Tr(
        [
            html.Th(
                [one.name, html.Span(one.reason, className="note")] if one.reason else one.name,
                scope="row",
                className="cell-name",
            ),
            *(
                html.Td(with_label(label, _digits(value, factor)), className="cell-number")
                for label, value in numbers
            ),
            html.Td(unit, className="cell-unit"),
            html.Td(with_label("explains", explained), className="cell-number"),
        ]
    )


def _hints(found: PairExplanation, words: dict[str, str]) -> list[Component]:
    heading = html.H2("Hints about what may be wrong in the model")
    if found.silence:
        return [heading, html.P(no_hints(found.silence), className="note")]
    shown = shown_hints(found.hints)
    if not shown:
        return [heading, html.P(f"{NO_HINT[0].upper()}{NO_HINT[1:]}.", className="note")]
    return [heading, html.Ul([html.Li(hint_words(one, words)) for one in shown], className="hints")]


def _digits(value: float | None, factor: float) -> str:
    return NO_NUMBER if value is None else number(float(f"{value * factor:.4g}"))

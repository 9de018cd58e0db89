"""The rating of a channel on the pair page: the number, its parts, and the scatter of the hardware."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import (
    COMPONENTS,
    as_sentence,
    delay_in_words,
    finding_title,
    grade_zones,
    number,
    scatter_numbers,
    scatter_verdict,
    signed,
)
from dashboard.components.controls import DECORATION, head_row, labelled, shortened, with_label
from dashboard.components.controls import number as rating_number

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import ChannelRating, Finding, HardwareScatter, MeanRating, Rating, WaivedFinding


def verdict(rated: ChannelRating) -> html.Div:
    """Return number, word, delay and the four scores, in one strip above the curves."""
    rating = rated.rating
    several = " on average" if len(rated.scores) > 1 and rating.shift_s else ""
    return html.Div(
        [
            html.Div(
                [
                    html.P(
                        [
                            html.Span(f"{rating.overall:.3f}", className="overall"),
                            html.Span(rating.grade, className="grade"),
                        ],
                        className="rating",
                    ),
                    html.P(f"{delay_in_words(rating.shift_s)}{several}", className="shift"),
                ],
                className="result",
                role="status",
            ),
            html.Div([_component(rating, name) for name in COMPONENTS], className="components"),
            *_marks(rated),
        ],
        className="verdict",
    )


def _component(rating: MeanRating, name: str) -> html.Div:
    score = getattr(rating, name)
    return html.Div(
        [
            html.H2(name.capitalize(), className="component-name"),
            html.Span(f"{score:.2f}", className="component-score"),
            html.Div(html.Div(style={"width": f"{score:.2%}"}), className="bar", **DECORATION),
        ],
        className="component",
    )


def _marks(rated: ChannelRating) -> list[Component]:
    """Return what weakens the evidence of the number, and the names of warnings, in one line."""
    said: list[Component] = []
    if rated.missing:
        count = len(rated.scores) + len(rated.missing)
        words = f"Mean of {len(rated.scores)} of {count} repeats: {', '.join(rated.missing)} cannot be rated."
        said.append(html.Span(words, className="evidence-mark"))
    names = list(dict.fromkeys(flag.name for score in rated.scores.values() for flag in score.flags))
    if names:
        said.append(html.Span([html.Strong("Warnings: "), ", ".join(names)]))
    return [html.P(said, className="marks")] if said else []


def scatter_line(hardware: HardwareScatter | None, *, why: str, notes: Sequence[str]) -> list[Component]:
    """Return the ceiling, the rating expected of a further test, and whether the model is beyond that."""
    link = dcc.Link("Show the repeats", href=why, className="why")
    marks = [html.Span(note, className="evidence-mark") for note in notes if note]
    if hardware is None:
        words = "Too few repeats to determine hardware scatter; three are needed."
        return [html.Span(words, className="note"), link, *marks]
    beyond = hardware.holds("overall") is False
    return [
        html.Strong(
            scatter_verdict(hardware).capitalize(),
            className="scatter-verdict is-beyond" if beyond else "scatter-verdict",
        ),
        *(html.Span([html.Strong(value), f" {words}"]) for value, words in scatter_numbers(hardware)),
        link,
        *marks,
    ]


def details(rated: ChannelRating, links: Mapping[str, str]) -> list[Component]:
    """Return the scale of grades with every repeat, their table, what the scores mean, and the warnings."""
    rating = rated.rating
    parts: list[Component] = [html.H2("The rating in detail"), ruler(rating)]
    if len(rated.scores) > 1:
        rows: dict[str, Rating | MeanRating] = {"mean": rating, **rating.ratings}
        parts.append(ratings_table("repeat", rows, first="mean", links=links))
    parts += [
        html.P([html.Strong(f"{name} "), reason], className="evidence-mark")
        for name, reason in rated.missing.items()
    ]
    meanings = [
        html.Li([html.Strong(name.capitalize()), f" (weight {number(_weight(rating, name))}): {words}"])
        for name, words in COMPONENTS.items()
    ]
    parts.append(html.Ul(meanings, className="meanings"))
    flags = _flags(rated)
    return [*parts, html.Ul(flags, className="flags", **labelled("Warnings"))] if flags else parts


def _weight(rating: MeanRating, name: str) -> float:
    weight: float = getattr(rating.settings.weights, name)
    return weight


def _flags(rated: ChannelRating) -> list[html.Li]:
    """Return every warning once, with the repeats it is of where there are several."""
    where: dict[tuple[str, str], list[str]] = {}
    for repeat, score in rated.scores.items():
        for flag in score.flags:
            where.setdefault((flag.name, flag.sentence), []).append(repeat)
    several = len(rated.scores) > 1
    return [
        html.Li([html.Strong(name), f" ({', '.join(repeats)})" if several else "", f": {sentence}"])
        for (name, sentence), repeats in where.items()
    ]


def ruler(rating: MeanRating) -> html.Div:
    """Return the scale from 0 to 1, divided into the grades, a needle at the rating, a tick per repeat."""
    zones = [
        html.Div(
            [html.Span(word, className="zone-word"), html.Span(f"{floor:.2f}", className="zone-floor")],
            className="zone reached" if word == rating.grade else "zone",
            style={"left": f"{floor:.2%}", "width": f"{ceiling - floor:.2%}"},
        )
        for word, floor, ceiling in grade_zones()
    ]
    ticks = [
        html.Div(className="repeat-tick", style={"left": f"{value:.2%}"})
        for value in rating.by_repeat.values()
    ]
    needle = html.Div(className="needle", style={"left": f"{rating.overall:.2%}"})
    words = f"{rating.overall:.3f} on the scale from 0 to 1: {rating.grade}"
    return html.Div([*zones, *ticks, needle], className="ruler", role="img", **labelled(words))


def ratings_table(
    head: str,
    rows: Mapping[str, Rating | MeanRating],
    *,
    first: str,
    links: Mapping[str, str] | None = None,
    refused: Mapping[str, str] | None = None,
) -> html.Table:
    """Return ratings side by side, each with its difference from the first, and what could not be rated."""
    columns = [(head, "name"), ("rating", "rated"), ("change", "number")]
    columns += [(name, "number") for name in COMPONENTS] + [("timing", "timing")]
    shown = [_row(name, one, rows[first], (links or {}).get(name, "")) for name, one in rows.items()]
    shown += [
        html.Tr(
            [
                html.Th(shortened(name), scope="row", className="cell-name"),
                html.Td(
                    f"not rated: {reason}", colSpan=len(columns) - 1, className="cell-words evidence-mark"
                ),
            ]
        )
        for name, reason in (refused or {}).items()
    ]
    return html.Table([head_row(columns), html.Tbody(shown)], className="lines releases")


def _row(name: str, rating: Rating | MeanRating, first: Rating | MeanRating, link: str) -> html.Tr:
    difference = "–" if rating is first else signed(rating.overall - first.overall)
    rated = [
        html.Span(rating_number(rating.overall), className="line-number"),
        html.Span(rating.grade, className="line-grade"),
    ]
    scores = [
        html.Td(with_label(part, f"{getattr(rating, part):.2f}"), className="cell-number")
        for part in COMPONENTS
    ]
    return html.Tr(
        [
            html.Th(
                dcc.Link(shortened(name), href=link) if link else shortened(name),
                scope="row",
                className="cell-name",
            ),
            html.Td(rated, className="cell-rated"),
            html.Td(with_label("change", difference), className="cell-number"),
            *scores,
            html.Td(delay_in_words(rating.shift_s), className="cell-timing"),
        ]
    )


def findings_part(
    findings: Sequence[Finding],
    waived: Sequence[WaivedFinding],
    *,
    repeats: str,
    tidy: Callable[[str], str],
) -> list[Component]:
    """Return what the data check found in the reference channel, accepted findings marked."""
    title = html.H2("Data check of the reference channel")
    more = html.P(dcc.Link("All repeats with these findings", href=repeats), className="note")
    if not findings and not waived:
        return [title, html.P("No findings in this channel, in any repeat.", className="check-clear"), more]
    entries = [_finding(one, tidy, "") for one in findings]
    entries += [_finding(one.finding, tidy, one.waiver.words) for one in waived]
    return [title, *entries, more]


def _finding(finding: Finding, tidy: Callable[[str], str], waived: str) -> html.Article:
    title = finding_title(finding, finding.short_place)
    what = tidy(finding.what)
    note = as_sentence(waived) if waived else f"Remedy: {finding.remedy}."
    parts: list[str | Component] = [f"{as_sentence(what)} ", html.Span(note, className="note")]
    tag = [html.Span("waived", className="tag")] if waived else []
    kind = "is-waived" if waived else f"is-{finding.severity}"
    return html.Article([html.H3([title, *tag]), html.P(parts)], className=f"finding {kind}")

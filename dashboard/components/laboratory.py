"""Findings, provenance, windows and the numbers of repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from dash import dcc, html

from correlate import repeat_numbers
from correlate.plots import (
    as_sentence,
    channel_title,
    choice_words,
    finding_figure,
    finding_title,
    milliseconds,
    qualification_words,
    recipe_words,
    repeatability_facts,
    rounded,
    step_words,
    unit_words,
    verdict_words,
    window_strip,
)
from dashboard import ids
from dashboard.components.controls import DECORATION, NO_NUMBER, graph, head_row, number, with_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component

    from correlate import (
        ChannelRating,
        ChannelRepeats,
        Finding,
        OneRepeat,
        Qualification,
        QuantityVerdict,
        Recording,
        Signal,
        WaivedFinding,
    )
    from correlate.plots import RepeatLine, Theme


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatNote:
    """Something that has to be known of a repeat.

    Attributes
    ----------
    words
        One sentence.
    severity
        Of a finding; empty for what somebody answers for.
    """

    words: str
    severity: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatRow:
    """A repeat in the table of repeats.

    Attributes
    ----------
    line
        How it is drawn.
    colour
        Of its curve, if it has no fault.
    link
        Address that draws it in front of the others, or no longer.
    notes
        Worst first.
    """

    line: RepeatLine
    colour: str
    link: str
    notes: tuple[RepeatNote, ...]


def drawn_finding(finding: Finding, tests: Sequence[Recording], theme: Theme) -> go.Figure | None:
    """Return the curve with the place of a finding; None where there is no curve."""
    by_file = {str(test.path): test for test in tests}
    if finding.channel not in by_file.get(finding.file, ()):
        return None
    signal = by_file[finding.file].channel(finding.channel)
    others = [
        other
        for file, test in by_file.items()
        if file != finding.file
        for other in test.signals
        if other.channel == signal.channel and other.unit == signal.unit
    ]
    return finding_figure(finding, signal, theme=theme, others=others)


def finding_parts(
    own: Sequence[tuple[Finding, go.Figure | None]],
    others: Sequence[Finding],
    waived: Sequence[WaivedFinding],
    names: Mapping[str, str],
    *,
    link: Callable[[str], str],
    tidy: Callable[[str], str],
) -> list[Component]:
    """Return the findings of a channel with their figures, and where else something was found."""
    parts: list[Component] = [html.H2("Data check")]
    if not own:
        parts.append(html.P("No open finding in this channel, in any repeat.", className="check-clear"))
    parts += [
        _finding(number, finding, figure, title=_title(finding, names), what=tidy(finding.what))
        for number, (finding, figure) in enumerate(own)
    ]
    if others:
        parts += [html.H3("In other channels of this load case"), _elsewhere(others, names, link)]
    if waived:
        parts += [html.H3("Waived in this load case"), _waived(waived, names)]
    return parts


def _waived(waived: Sequence[WaivedFinding], names: Mapping[str, str]) -> html.Ul:
    entries = [
        html.Li(
            f"{channel_title(one.finding.channel)}: {_title(one.finding, names)}, {one.waiver.words}"
            if one.finding.channel
            else f"{_title(one.finding, names)}, {one.waiver.words}"
        )
        for one in waived
    ]
    return html.Ul(entries, className="assumptions")


def _title(finding: Finding, names: Mapping[str, str]) -> str:
    return finding_title(finding, names.get(finding.file, finding.file))


def _finding(
    number: int, finding: Finding, figure: go.Figure | None, *, title: str, what: str
) -> html.Article:
    words = html.P([f"{as_sentence(what)} ", html.Span(f"Remedy: {finding.remedy}.", className="note")])
    place = {"type": ids.REPEATS_FINDING, "number": number}
    drawn = [] if figure is None else [graph(place, figure, kind="finding-figure")]
    return html.Article([html.H3(title), words, *drawn], className=f"finding is-{finding.severity}")


def _elsewhere(findings: Sequence[Finding], names: Mapping[str, str], link: Callable[[str], str]) -> html.Ul:
    entries = []
    for finding in findings:
        address = link(finding.channel)
        words = channel_title(finding.channel)
        entries.append(
            html.Li([dcc.Link(words, href=address) if address else words, f": {_title(finding, names)}"])
        )
    return html.Ul(entries, className="assumptions")


def provenance(rated: ChannelRating, shown_path: Callable[[str], str]) -> list[html.Section]:
    """Return settings, inputs and histories of a channel and its repeats as parts of a page."""
    score = rated.first
    tests = [
        _signal("Test" if len(rated.scores) == 1 else f"Test {name}", one.reference, shown_path)
        for name, one in rated.scores.items()
    ]
    return [
        html.Section(
            [
                html.H2("How they were compared"),
                facts(recipe_words(score.recipe, score.rating)),
                html.Details(
                    [
                        html.Summary("Limits, exponents and options of the rating"),
                        facts(choice_words(score.rating.settings)),
                    ]
                ),
            ],
            className="card compared",
        ),
        *tests,
        _signal("Model", score.candidate, shown_path),
    ]


def facts(pairs: Iterable[tuple[str, str]]) -> html.Dl:
    """Return names and values as a list of facts."""
    return html.Dl([html.Div([html.Dt(name), html.Dd(value)]) for name, value in pairs], className="facts")


def _signal(role: str, signal: Signal, shown_path: Callable[[str], str]) -> html.Section:
    side = role.split(maxsplit=1)[0].lower()
    key = html.Span(className=f"key {side}-key", **DECORATION)
    return html.Section(
        [
            html.H2([key, role]),
            html.P(channel_title(signal.channel), className="signal-title"),
            facts(
                [
                    ("Channel", signal.channel),
                    ("Unit", unit_words(signal.unit)),
                    ("File", shown_path(signal.source.file)),
                    ("SHA-256", signal.source.sha256 or "none: computed"),
                ]
            ),
            html.H3("Steps, in this order"),
            html.Ol([_step(*step_words(step)) for step in signal.history], className="steps"),
        ],
        className=f"card signal {side}-signal",
    )


def _step(name: str, settings: str) -> html.Li:
    return html.Li([html.Span(name, className="step-name"), html.Span(settings, className="step-settings")])


def window_parts(found: Sequence[Qualification], names: Sequence[str]) -> list[Component]:
    """Return every quantity of every repeat against its window."""
    window = found[0].window
    columns = [("quantity", "quantity"), ("window", "window"), ("", "strip")]
    head = head_row([*columns, *((name, "repeat") for name in names)])
    rows = [_row(verdicts) for verdicts in zip(*(one.verdicts for one in found), strict=True)]
    words = qualification_words(found)
    return [
        html.P(f"{words[0].upper()}{words[1:]}.", className="limits-words"),
        html.Div(
            html.Table([head, html.Tbody(rows)], className="lines window-lines"),
            className="wide",
            tabIndex="0",
        ),
        *_reasons(found, names),
        html.P(f"{window.device}: {window.test}; {window.provenance}.", className="note"),
    ]


def _row(verdicts: Sequence[QuantityVerdict]) -> html.Tr:
    first = verdicts[0]
    limits = f"{rounded(first.low)} to {rounded(first.high)} {unit_words(first.unit)}"
    return html.Tr(
        [
            html.Th(first.words, scope="row", className="cell-quantity"),
            html.Td(limits, className="cell-window"),
            html.Td(_strip(verdicts), className="cell-strip"),
            *(html.Td(_cell(verdict), className="cell-repeat") for verdict in verdicts),
        ]
    )


def _cell(verdict: QuantityVerdict) -> list[Component]:
    value = NO_NUMBER if verdict.value is None else rounded(verdict.value)
    kind = "note" if verdict.verdict == "inside" else "note is-outside"
    return [html.Span(value, className="line-number"), html.Span(verdict_words(verdict), className=kind)]


def _strip(verdicts: Sequence[QuantityVerdict]) -> html.Div:
    strip = window_strip(verdicts)
    band = html.Span(
        className="strip-window", style={"left": f"{strip.low:.2%}", "right": f"{1 - strip.high:.2%}"}
    )
    marks = [
        html.Span(className="strip-mark", style={"left": f"{mark:.2%}"})
        for mark in strip.marks
        if mark is not None
    ]
    return html.Div([band, *marks], className="strip", **DECORATION)


def _reasons(found: Sequence[Qualification], names: Sequence[str]) -> list[Component]:
    """Say once why a quantity could not be measured, and in which repeats."""
    where: dict[tuple[str, str], list[str]] = {}
    for name, one in zip(names, found, strict=True):
        for verdict in one.verdicts:
            if verdict.reason:
                where.setdefault((verdict.words, verdict.reason), []).append(name)
    entries = [
        html.Li(f"{words[0].upper()}{words[1:]} ({', '.join(tests)}): {reason}")
        for (words, reason), tests in where.items()
    ]
    return [html.Ul(entries, className="assumptions")] if entries else []


def repeat_legend(rows: Sequence[RepeatRow]) -> html.Ul:
    """Return the names of the repeats that are drawn with the colours of their curves."""
    shown = [row for row in rows if row.line.is_shown]
    return html.Ul(
        [
            html.Li(_repeat_link(_legend_words(row.line), row), className=_classes(row, "legend-repeat"))
            for row in shown
        ],
        className="repeat-legend",
    )


def _legend_words(line: RepeatLine) -> str:
    return f"{line.name} ({line.fault})" if line.fault else line.name


def repeat_tables(found: ChannelRepeats, rows: Sequence[RepeatRow], absent: Sequence[str]) -> list[Component]:
    """Return the numbers of the repeats as parts of a page, and which tests lack the channel."""
    numbers = repeat_numbers(found.repeats, found.ceiling)
    unit = found.repeats.unit
    columns = [("repeat", "name"), (f"peak [{unit_words(unit)}]", "number"), ("at", "number")]
    head = head_row([*columns, ("moved by", "number"), ("rating against the others", "number")])
    entries = [
        _repeat_row(place, row, one)
        for place, (row, one) in enumerate(zip(rows, numbers.repeats, strict=True), 1)
    ]
    parts: list[Component] = [
        html.H2("Repeatability"),
        facts(repeatability_facts(numbers, found.ceiling, unit, found.unlike)),
        html.Table([head, html.Tbody(entries)], className="lines repeat-lines"),
        html.P("Numbers and corridor are of all repeats, whichever are drawn.", className="note"),
    ]
    if absent:
        words = f"Without this channel: {', '.join(absent)}."
        parts.append(html.P(words, className="check-reason"))
    if found.corridor is not None:
        assumed = html.Ul([html.Li(words) for words in found.corridor.assumptions], className="assumptions")
        parts.append(html.Details([html.Summary("Assumptions behind this corridor"), assumed]))
    return parts


def _repeat_row(place: int, row: RepeatRow, one: OneRepeat) -> html.Tr:
    cells = [
        ("peak", rounded(one.peak)),
        ("at", milliseconds(round(one.peak_s, 7))),
        ("moved by", milliseconds(round(one.shift_s, 7))),
        ("rating", number(one.rating)),
    ]
    return html.Tr(
        [
            html.Th(_repeat_name(place, row), scope="row", className="cell-name"),
            *(html.Td(with_label(label, value), className="cell-number") for label, value in cells),
        ],
        className=_classes(row, "pick-row"),
    )


def _repeat_name(place: int, row: RepeatRow) -> list[Component]:
    return [
        *_repeat_link(f"{place} · {row.line.name}", row),
        *([html.Span("not drawn", className="tag")] if not row.line.is_shown else []),
        *(html.Span(note.words, className=f"note is-{note.severity or 'waived'}") for note in row.notes),
    ]


def _repeat_link(words: str, row: RepeatRow) -> list[Component]:
    """Return the name of a repeat with the line of its curve, and the link that draws it in front."""
    # A faulty curve has the colour of an alert, which the style sheet gives it.
    colour = {} if row.line.fault else {"borderTopColor": row.colour}
    action = "Stop highlighting" if row.line.is_picked else "Highlight"
    return [
        html.Span(className="key repeat-key", style=colour, **DECORATION),
        dcc.Link(words, href=row.link, title=f"{action} this repeat", className="row-link"),
    ]


def _classes(row: RepeatRow, kind: str) -> str:
    faulty = " is-faulty" if row.line.fault else ""
    return f"{kind}{faulty}{' is-picked' if row.line.is_picked else ''}"

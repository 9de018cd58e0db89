"""Legends of static figures: names that do not fit into one row go on in the next."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any, Final

from correlate.plots.svg_marks import fill_of, mark, plain_lines, stroke, text_element, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.plots.svg_marks import Scale

_USUAL_RANK: Final = 1000
_SWATCH: Final = 26.0
_AFTER_SWATCH: Final = 7.0
_GAP: Final = 18.0
_ROW: Final = 1.5
"""Distance of rows, in sizes."""
_ABOVE: Final = 10.0
"""Between the last row and the panel, px."""
MAIN: Final = "legend"
"""Name of the legend above the panel."""


def legend_room(figure: Any, width: float) -> float:
    """Return the height that the rows of the main legend need beyond the first, px."""
    rows = _rows(figure, MAIN, _named(figure, MAIN), width)
    return max(len(rows) - 1, 0) * _ROW * _size(figure, MAIN)


def draw_legends(figure: Any, across: Scale, box: tuple[float, float, float, float]) -> Iterator[str]:
    """Draw the legend above the panel, and those of further panels above them."""
    if figure.layout.showlegend is False:
        return
    names = dict.fromkeys([MAIN, *(trace.legend for trace in figure.data if trace.legend)])
    _, top, _, height = box
    colour = str(figure.layout.font.color)
    for name in names:
        rows = _rows(figure, name, _named(figure, name), across.end - across.start)
        size = _size(figure, name)
        low = top - _ABOVE
        if name != MAIN:
            low = top + height * (1.0 - float(figure.layout[name].y or 0.0)) - size / 3
        first = low - (len(rows) - 1) * _ROW * size
        for place, row in enumerate(rows):
            yield from _row(row, across.start, first + place * _ROW * size, size, colour)


def _size(figure: Any, name: str) -> float:
    return float(figure.layout[name].font.size or figure.layout.font.size)


def _named(figure: Any, name: str) -> list[Any]:
    """Return the curves of a legend in their order; none where one curve alone needs no name."""
    layout = figure.layout
    all_named = [trace for trace in figure.data if trace.showlegend is not False and trace.name]
    if len(all_named) < 2 and not layout.showlegend:
        return []
    own = [trace for trace in all_named if (trace.legend or MAIN) == name]
    return sorted(own, key=lambda one: one.legendrank or _USUAL_RANK)


def _rows(figure: Any, name: str, traces: Sequence[Any], width: float) -> list[list[tuple[Any, str]]]:
    """Share the entries out among rows; an entry is a curve with its name, or words without a curve."""
    if not traces:
        return []
    size = _size(figure, name)
    title = figure.layout[name].title.text
    entries = [(None, " ".join(plain_lines(title)).strip())] if title else []
    entries += [(trace, " ".join(plain_lines(trace.name))) for trace in traces]
    rows: list[list[tuple[Any, str]]] = [[]]
    used = 0.0
    for trace, words in entries:
        for part, lines in enumerate(wrapped(words, size, width - _SWATCH - _AFTER_SWATCH)):
            needed = _width(trace, lines, size)
            if rows[-1] and (used + needed > width or part):
                rows.append([])
                used = 0.0
            rows[-1].append((None if part else trace, lines))
            used += needed + _GAP
    return rows


def _width(trace: Any, words: str, size: float) -> float:
    return text_width(words, size) + (0.0 if trace is None else _SWATCH + _AFTER_SWATCH)


def _row(row: Sequence[tuple[Any, str]], x: float, y: float, size: float, colour: str) -> Iterator[str]:
    for trace, words in row:
        if trace is not None:
            yield _swatch(trace, x, y - 0.33 * size)
        indent = 0.0 if trace is None else _SWATCH + _AFTER_SWATCH
        yield text_element(words, x=x + indent, y=y, size=size, colour=colour)
        x += _width(trace, words, size) + _GAP


def _swatch(trace: Any, x: float, y: float) -> str:
    if trace.type == "bar":
        colour = escape(str(trace.marker.color))
        return f'<rect x="{x + 8:.1f}" y="{y - 5:.1f}" width="12" height="10" fill="{colour}"/>'
    if trace.fill not in {None, "none"}:
        edge = stroke(trace.line).replace('fill="none"', fill_of(trace))
        return f'<rect x="{x:.1f}" y="{y - 5:.1f}" width="{_SWATCH:g}" height="10" {edge}/>'
    line = f'<path d="M{x:.1f} {y:.1f}h{_SWATCH:g}" {stroke(trace.line)}/>'
    if "markers" not in (trace.mode or ""):
        return line
    return line + mark(trace.marker.symbol or "circle", x + _SWATCH / 2, y, 8.0, str(trace.marker.color))


def wrapped(words: str, size: float, width: float) -> list[str]:
    """Break words into lines that are not wider than a width; a word that is wider is broken too.

    Examples
    --------
    >>> wrapped("one two three", 10.0, 50.0)
    ['one two', 'three']
    """
    lines = [""]
    for word in words.split():
        joined = f"{lines[-1]} {word}".strip()
        if text_width(joined, size) <= width:
            lines[-1] = joined
            continue
        pieces = _pieces(word, size, width)
        lines[-1:] = [*([lines[-1]] if lines[-1] else []), *pieces]
    return lines


def _pieces(word: str, size: float, width: float) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, size) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces

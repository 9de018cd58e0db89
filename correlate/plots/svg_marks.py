"""Lines, areas, marks and text of static figures, and their scales."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from html import escape, unescape
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.plots.wording import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


_ROOM: Final = 0.05
"""Share of the range that is left free above and below curves."""
_USUAL_TICKS: Final = 7
_STEPS: Final = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """One axis: values on one side, px on the other.

    Attributes
    ----------
    low, high
        Range of values.
    start, end
        Where they lie, px; upright axes begin at the bottom.
    ticks
        Values with their texts.
    layout
        Of the axis in the figure.
    """

    low: float
    high: float
    start: float
    end: float
    ticks: tuple[tuple[float, str], ...]
    layout: Any

    def at(self, value: float) -> float:
        """Return where a value lies, px."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def many(self, values: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
        """Return where values lie, px."""
        shares = (np.asarray(values, dtype=np.float64) - self.low) / (self.high - self.low)
        return np.asarray(self.start + shares * (self.end - self.start))


def make_scale(layout: Any, values: Sequence[Any], *, start: float, end: float, tight: bool) -> Scale:
    """Return the scale of an axis."""
    low, high = _range(layout, values, tight=tight)
    return Scale(low=low, high=high, start=start, end=end, ticks=_ticks(layout, low, high), layout=layout)


def nice_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values inside a range, at most so many and evenly spaced.

    Examples
    --------
    >>> nice_ticks(0.0, 10.0, 6), nice_ticks(-0.3, 0.3, 4)
    ([0.0, 2.0, 4.0, 6.0, 8.0, 10.0], [-0.2, 0.0, 0.2])
    """
    rough = (high - low) / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(one * power for one in _STEPS if one * power >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [float(f"{place * step:.12g}") + 0.0 for place in range(first, last + 1)]


def _range(layout: Any, values: Sequence[Any], *, tight: bool) -> tuple[float, float]:
    if layout.range is not None:
        low, high = (float(end) for end in layout.range)
        return low, high
    found = [np.asarray(one, dtype=np.float64) for one in values]
    known = np.concatenate([one[np.isfinite(one)] for one in found]) if found else np.array([])
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    if layout.rangemode == "tozero":
        low, high = min(low, 0.0), max(high, 0.0)
    if low == high:
        low, high = low - 0.5, high + 0.5
    room = 0.0 if tight else _ROOM * (high - low)
    if layout.rangemode == "tozero":
        return low - room * (low < 0), high + room * (high > 0)
    return low - room, high + room


def _ticks(layout: Any, low: float, high: float) -> tuple[tuple[float, str], ...]:
    if layout.tickvals is not None:
        places = [float(value) for value in layout.tickvals]
        words = [str(text) for text in layout.ticktext or [number(value) for value in places]]
    else:
        places = nice_ticks(low, high, layout.nticks or _USUAL_TICKS)
        words = [_tick_words(value, layout.tickformat) for value in places]
    return tuple((value, text) for value, text in zip(places, words, strict=True) if low <= value <= high)


def _tick_words(value: float, form: str | None) -> str:
    return format(value, form).replace("-", "−") if form else number(value)


_WIDE: Final = frozenset("MWmw@%—")
_NARROW: Final = frozenset("iIjlrtf.,:;'’|!()[] ")
_WIDTHS: Final = {"wide": 0.86, "narrow": 0.30, "usual": 0.56}


def text_width(text: str, size: float) -> float:
    """Estimate how wide a text is, to place what stands beside it.

    Examples
    --------
    >>> text_width("mmm", 10.0) > text_width("iii", 10.0)
    True
    """
    classes = ("wide" if one in _WIDE else "narrow" if one in _NARROW else "usual" for one in text)
    return size * sum(_WIDTHS[kind] for kind in classes)


def plain_lines(markup: str) -> list[str]:
    """Return the lines of a text as the drawing library takes it, without its markup.

    Examples
    --------
    >>> plain_lines("corridor<br>score &lt;1&gt;")
    ['corridor', 'score <1>']
    """
    return [unescape(line) for line in re.split(r"<br\s*/?>", markup)]


def text_element(
    text: str,
    *,
    x: float,
    y: float,
    size: float,
    colour: str,
    anchor: str = "start",
    turned: bool = False,
    weight: int = 400,
) -> str:
    """Write one line of text."""
    turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
    place = "" if anchor == "start" else f' text-anchor="{anchor}"'
    bold = "" if weight == 400 else f' font-weight="{weight}"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" fill="{escape(colour)}"{place}{bold}{turn}>'
        f"{escape(text)}</text>"
    )


_DASHES: Final = {"solid": "", "dash": "9 9", "dot": "3 3", "dashdot": "9 3 3 3"}
_FILLS: Final = frozenset({None, "none", "tonexty", "tozeroy"})
_TENTHS: Final = 10
"""A path is written in tenths of a px: whole numbers, shorter than decimals and finer than print."""


def stroke(line: Any) -> str:
    """Return colour, width and dashes of a line as attributes."""
    word = line.dash or "solid"
    dashes = _DASHES.get(word, word.replace("px", "").replace(",", " "))
    told = f' stroke-dasharray="{escape(dashes)}"' if dashes else ""
    width = 2.0 if line.width is None else float(line.width)
    return f'fill="none" stroke="{escape(str(line.color))}" stroke-width="{width:g}"{told}'


_HATCH_OPACITY: Final = 0.2
"""Of a hatched area, which is drawn as an even tint, because every program shows that in the same way."""


def fill_of(trace: Any) -> str:
    """Return the fill of an area as attributes."""
    hatch = trace.fillpattern.fgcolor
    if hatch is not None:
        return f'fill="{escape(str(hatch))}" fill-opacity="{_HATCH_OPACITY:g}"'
    return f'fill="{escape(str(trace.fillcolor))}"'


def path_data(x: Floats, y: Floats) -> str:
    """Write a line through points, broken where a value is missing.

    Parameters
    ----------
    x, y
        In px, shape ``(n,)``.

    Returns
    -------
    str
        Of the attribute ``d``, in tenths of a px: points that lie on the line through their neighbours are
        left out.

    Examples
    --------
    >>> path_data(np.array([0.0, 1.0, 2.0, 3.0]), np.array([5.0, 5.0, 5.0, 6.0]))
    'M0 50l20 0 10 10'
    """
    parts = []
    finite = np.isfinite(x) & np.isfinite(y)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], finite, [False]])))
    for first, last in edges.reshape(-1, 2):
        points = np.rint(_TENTHS * np.column_stack([x[first:last], y[first:last]])).astype(np.int64)
        points = _without_needless(points)
        steps = " ".join(f"{right} {down}" for right, down in np.diff(points, axis=0))
        parts.append(f"M{points[0, 0]} {points[0, 1]}" + (f"l{steps}" if steps else ""))
    return "".join(parts)


def draw_scatter(trace: Any, before: tuple[Floats, Floats] | None, across: Scale, up: Scale) -> Iterator[str]:
    """Draw lines, the fill under or between them, marks and texts."""
    x, y = points_of(trace, across, up)
    if trace.fill not in _FILLS:
        raise SettingsError(f"a curve filled '{trace.fill}' has no static drawing", where="figure")
    if trace.fill == "tozeroy":
        base = up.at(min(max(0.0, up.low), up.high))
        yield _area(trace, np.array([x[0], *x, x[-1]]), np.array([base, *y, base]))
    if trace.fill == "tonexty" and before is not None:
        yield _area(trace, np.concatenate([before[0], x[::-1]]), np.concatenate([before[1], y[::-1]]))
    mode = trace.mode or "lines"
    if "lines" in mode:
        # The join keeps sharp peaks from reaching beyond their value.
        look = f'{stroke(_Tenfold(trace.line))} stroke-linejoin="round"'
        if trace.opacity is not None:
            look += f' opacity="{trace.opacity:g}"'
        yield f'<path transform="scale(.1)" d="{path_data(x, y)}" {look}/>'
    if "markers" in mode:
        yield from _marks(trace, x, y)
    if "text" in mode:
        yield from _texts(trace, x, y)


def points_of(trace: Any, across: Scale, up: Scale) -> tuple[Floats, Floats]:
    """Return where the points of a trace lie, px."""
    values = [float("nan") if value is None else value for value in trace.y]
    return across.many(trace.x), up.many(values)


def draw_bars(traces: list[Any], across: Scale, up: Scale) -> Iterator[str]:
    """Draw bars that stand on each other."""
    heights = np.zeros(len(traces[0].x))
    for trace in traces:
        half = float(trace.width) / 2
        tops = heights + np.asarray(trace.y, dtype=np.float64)
        corners = []
        for middle, low, high in zip(trace.x, heights, tops, strict=True):
            left, right = across.at(middle - half), across.at(middle + half)
            if high > low:
                corners.append(f"M{left:.1f} {up.at(low):.1f}H{right:.1f}V{up.at(high):.1f}H{left:.1f}z")
        yield f'<path d="{"".join(corners)}" fill="{escape(str(trace.marker.color))}"/>'
        heights = tops


def mark(symbol: str, x: float, y: float, size: float, colour: str) -> str:
    """Draw one mark."""
    half = size / 2
    if symbol == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{half:.1f}" fill="{escape(colour)}"/>'
    if symbol == "diamond":
        reach = half * 1.3
        step = f"l{reach:.1f} {-reach:.1f} {reach:.1f} {reach:.1f} {-reach:.1f} {reach:.1f}z"
        return f'<path d="M{x - reach:.1f} {y:.1f}{step}" fill="{escape(colour)}"/>'
    raise SettingsError(f"the mark '{symbol}' has no static drawing", where="figure")


def _without_needless(points: NDArray[np.int64]) -> NDArray[np.int64]:
    """Drop points that repeat the last one, or lie on a straight way between their neighbours."""
    moved = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)])
    points = points[moved]
    if len(points) < 3:
        return points
    steps = np.diff(points, axis=0)
    turn = steps[:-1, 0] * steps[1:, 1] != steps[:-1, 1] * steps[1:, 0]
    back = np.sum(steps[:-1] * steps[1:], axis=1) < 0
    kept: NDArray[np.int64] = points[np.concatenate([[True], turn | back, [True]])]
    return kept


def _area(trace: Any, x: Floats, y: Floats) -> str:
    return f'<path transform="scale(.1)" d="{path_data(x, y)}z" {fill_of(trace)}/>'


class _Tenfold:
    """A line in tenths of a px."""

    def __init__(self, line: Any) -> None:
        dash = line.dash or "solid"
        lengths = _DASHES.get(dash, dash.replace("px", "").replace(",", " ")).split()
        self.color = line.color
        self.width = _TENTHS * (2.0 if line.width is None else float(line.width))
        self.dash = " ".join(f"{_TENTHS * float(one):g}" for one in lengths)


def _marks(trace: Any, x: Floats, y: Floats) -> Iterator[str]:
    sizes = np.broadcast_to(np.asarray(trace.marker.size, dtype=np.float64), x.shape)
    for across, down, size in zip(x, y, sizes, strict=True):
        if np.isfinite(down):
            yield mark(trace.marker.symbol or "circle", across, down, float(size), str(trace.marker.color))


def _texts(trace: Any, x: Floats, y: Floats) -> Iterator[str]:
    size = float(trace.textfont.size or 13)
    places = trace.textposition
    for index, (across, down, text) in enumerate(zip(x, y, trace.text, strict=True)):
        if not (text and np.isfinite(down)):
            continue
        place = places if isinstance(places, str) else places[index]
        lower = {"top": down - 0.7 * size, "bottom": down + 1.5 * size}.get(place.split()[0], down)
        anchor = {"left": "end", "right": "start"}.get(place.split()[-1], "middle")
        gap = {"end": -3.0, "start": 3.0}.get(anchor, 0.0)
        yield text_element(
            " ".join(plain_lines(text)),
            x=across + gap,
            y=lower,
            size=size,
            colour=str(trace.textfont.color),
            anchor=anchor,
        )

"""Texts of a static drawing: how wide they are, and how they are written."""

from __future__ import annotations

import re
from html import escape, unescape
from typing import Final

_WIDE: Final = frozenset("MWmw@%—")
_NARROW: Final = frozenset("iIjlrtf.,:;'’|!()[] ")
_WIDTHS: Final = {"wide": 0.86, "narrow": 0.30, "usual": 0.56}


def text_width(text: str, size: float) -> float:
    """Estimate how wide a text is, to place what stands beside it.

    Parameters
    ----------
    text
        One line.
    size
        Of the letters, px.

    Returns
    -------
    float
        In px. An estimate from three classes of letters (chosen here), not a measurement.

    Examples
    --------
    >>> text_width("mmm", 10.0) > text_width("iii", 10.0)
    True
    """
    classes = ("wide" if one in _WIDE else "narrow" if one in _NARROW else "usual" for one in text)
    return size * sum(_WIDTHS[kind] for kind in classes)


def plain_lines(markup: str) -> list[str]:
    """Return the lines of a text as the drawing library takes it, without its markup.

    Parameters
    ----------
    markup
        With ``<br>`` between lines and ``&lt;`` for a sign that is meant.

    Returns
    -------
    list of str

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
) -> str:
    """Write one line of text.

    Parameters
    ----------
    text
        As it is to be read; it is escaped here.
    x, y
        Of its base line, px.
    size
        Of the letters, px.
    colour
        ``#rrggbb``.
    anchor
        ``start``, ``middle`` or ``end``.
    turned
        Whether it runs upwards.

    Returns
    -------
    str
        A ``text`` element.
    """
    turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
    place = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" fill="{escape(colour)}"{place}{turn}>'
        f"{escape(text)}</text>"
    )

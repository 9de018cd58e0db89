"""The typeface of pages, figures and reports, carried inside the page so that nothing is fetched."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from importlib.resources import files
from typing import Final

FONT: Final = 'Archivo, "Segoe UI", "Helvetica Neue", Arial, sans-serif'
"""Typeface of figures and pages; the first is shipped, the others stand in for letters it lacks."""


@cache
def font_face() -> str:
    """Return the shipped typeface as a rule of a style sheet.

    Returns
    -------
    str
        An ``@font-face`` rule that holds the font file itself (Archivo, SIL Open Font License 1.1).
    """
    content = files("correlate.plots").joinpath("fonts/archivo-latin.woff2").read_bytes()
    data = b64encode(content).decode("ascii")
    return (
        '@font-face { font-family: "Archivo"; font-weight: 100 900; font-style: normal; '
        f'src: url("data:font/woff2;base64,{data}") format("woff2"); }}'
    )

"""The shipped typeface."""

from __future__ import annotations

import base64
import re
from importlib.resources import files

from correlate.plots import FONT, font_face


def test_the_rule_holds_the_font_itself() -> None:
    """The style sheet carries a WOFF 2 file, known by its first four bytes, and no address."""
    rule = font_face()
    found = re.search(r'url\("data:font/woff2;base64,([^"]+)"\)', rule)
    assert found
    assert base64.b64decode(found.group(1))[:4] == b"wOF2"
    assert "http" not in rule
    assert FONT.startswith("Archivo")


def test_the_licence_is_shipped_beside_it() -> None:
    """The Open Font License must accompany the font."""
    text = files("correlate.plots").joinpath("fonts/OFL.txt").read_text(encoding="utf-8")
    assert "SIL Open Font License, Version 1.1" in text

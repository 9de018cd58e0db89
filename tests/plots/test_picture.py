"""A saved picture: what it says, its typeface, and that nothing of it is cut."""

from __future__ import annotations

import re
from datetime import date
from xml.etree import ElementTree as ET

from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.plots import LIGHT, font_face, pair_view_figure
from correlate.plots.picture import PictureWords, picture_svg
from correlate.plots.svg_legend import wrapped
from correlate.plots.svg_marks import text_width
from correlate.version import VERSION
from tests.plots.scores import late_model
from tests.plots.test_pair_view import of_one, view

LONG = "a release that somebody gave a very long name in which everything is told "
SVG = "{http://www.w3.org/2000/svg}"


def words(**more: object) -> PictureWords:
    """Return what stands around a picture."""
    given: dict[str, object] = {
        "title": "Head acceleration X · Head drop",
        "ratings": ("A1: 0.612 fair",),
        "settings": "CFC 1000 · 0 ms to 40 ms",
        "campaign": "Small <campaign>",
        "day": date(2026, 3, 9),
    }
    return PictureWords(**(given | more))  # type: ignore[arg-type]


def picture(**more: object) -> str:
    """Draw the late model with two further releases."""
    others = {LONG * 2: of_one(late_model()), "A3": of_one(late_model())}
    return picture_svg(pair_view_figure(view(others=others), theme="light"), words(**more))


def texts(svg: str) -> list[str]:
    """Return every line of text."""
    root = ET.fromstring(svg)  # noqa: S314 - our own
    return [one.text or "" for one in root.iter() if one.tag in {"text", f"{SVG}text"}]


def test_it_says_what_it_shows() -> None:
    """Title, rating with grade, filter, interval, campaign, version and day are texts of the picture."""
    found = texts(picture())
    assert found[0] == "Head acceleration X · Head drop"
    assert {"A1: 0.612 fair", "CFC 1000 · 0 ms to 40 ms"} <= set(found)
    assert f"Small <campaign> · correlate {VERSION} · saved 2026-03-09" in found


def test_it_brings_its_typeface_and_needs_nothing_else() -> None:
    """The font file is in the style of the picture; no address is in it but names of its own."""
    svg = picture()
    assert font_face() in svg
    outside = svg.replace(font_face(), "").replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert "http" not in outside
    assert re.findall(r"url\(([^)]*)\)", outside) == ["#panel"]


def test_it_is_on_light_paper() -> None:
    """The ground is the panel of the light theme."""
    assert f'<rect width="100%" height="100%" fill="{LIGHT.panel}"/>' in picture()


def test_every_release_is_in_the_legend_whatever_its_name() -> None:
    """A name that is wider than the picture goes on in the next row."""
    found = " ".join(texts(picture()))
    assert found.count(" ".join(LONG.split())) == 2


@given(st.lists(st.text("aMi W", max_size=90), max_size=6), st.floats(8.0, 20.0))
@settings(max_examples=60)
def test_no_line_is_wider_than_it_may_be(parts: list[str], size: float) -> None:
    """Lines are within the width, nothing of the text is lost, and its order stays."""
    text = " ".join(parts)
    lines = wrapped(text, size, 120.0)
    assert all(text_width(line, size) <= 120.0 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())

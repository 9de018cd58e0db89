"""Pages: everything that made the rating is on them, and they need nothing else."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from correlate.plots.wording import CAUTION
from correlate.report.html import pair_html
from tests.plots.scores import late_model

if TYPE_CHECKING:
    from correlate import PairScore


class _Reader(HTMLParser):
    """Collects the text outside scripts and styles, and every attribute that loads something."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.tags: list[str] = []
        self.loads: list[str] = []
        self.policy = ""
        self._silent = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent = tag in {"script", "style"}
        self.tags.append(tag)
        given = dict(attrs)
        self.loads += [str(given[name]) for name in ("src", "srcset", "data", "action") if name in given]
        if tag == "link":
            self.loads.append(str(given.get("href")))
        if given.get("http-equiv") == "Content-Security-Policy":
            self.policy = str(given.get("content"))

    def handle_endtag(self, tag: str) -> None:
        if tag in {"script", "style"}:
            self._silent = False

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.text.append(data)

    @property
    def words(self) -> str:
        """The text with single spaces."""
        return " ".join(" ".join(self.text).split())


def read(page: str) -> _Reader:
    """Parse a page."""
    reader = _Reader()
    reader.feed(page)
    return reader


@pytest.fixture(scope="module")
def score() -> PairScore:
    """Return a model that is late and too small."""
    return late_model()


@pytest.fixture(scope="module")
def page(score: PairScore) -> str:
    """Return its page."""
    return pair_html(score, title="Head drop, repeat 3")


def test_rating_and_components_are_shown(page: str, score: PairScore) -> None:
    """Number, word, shift in words and the four scores are in the text."""
    words = read(page).words
    rating = score.rating
    assert f"{rating.overall:.3f} {rating.grade}" in words
    assert "model 1.2 ms late" in words
    for name in ("corridor", "phase", "magnitude", "slope"):
        assert f"{name.capitalize()} {getattr(rating, name):.2f}" in words


def test_inputs_are_named_with_their_hashes(page: str) -> None:
    """File, channel, unit and hash of both signals are in the text."""
    words = read(page).words
    for expected in (
        "laboratory/T1/T1.001",
        "a1" * 32,
        "D0HEAD0000KMACXP",
        "releases/A1/head-drop.csv",
        "b2" * 32,
        "head x acceleration",
        "m/s²",
    ):
        assert expected in words


def test_every_step_of_both_signals_is_listed(page: str, score: PairScore) -> None:
    """The page has one list entry for each recorded step, and one for each warning."""
    steps = len(score.reference.history) + len(score.candidate.history)
    assert steps >= 4
    assert read(page).tags.count("li") == steps + len(score.flags)


def test_settings_and_choices_are_listed(page: str) -> None:
    """What was set, published or chosen, can be read off."""
    words = read(page).words
    for expected in (
        "CFC 1000",
        "0 ms to 40 ms",
        "±5 % and ±50 % of the test’s peak",
        "Slope ends one-sided",
    ):
        assert expected in words


def test_the_caution_is_there(page: str) -> None:
    """The page says that a rating does not certify."""
    assert CAUTION in read(page).words


def test_nothing_is_loaded(page: str) -> None:
    """No attribute and no style names another file, and the policy in the page forbids every request."""
    reader = read(page)
    assert reader.loads == []
    assert reader.policy.startswith("default-src 'none'")
    assert "connect-src" not in reader.policy
    styles = "".join(re.findall(r"<style>(.*?)</style>", page, re.DOTALL))
    assert re.findall(r"url\((?!\"data:)|@import", styles) == []


def test_the_upload_button_is_off(page: str) -> None:
    """The one figure of the page carries the setting."""
    figures = page.count("Plotly.newPlot(") - page.count("function Plotly.newPlot(")
    assert figures >= 1
    assert page.count('"showSendToCloud": false') == figures


@pytest.mark.parametrize("evil", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>'])
def test_names_are_escaped(evil: str) -> None:
    """Titles and channel names from files cannot bring markup onto the page."""
    page = pair_html(late_model(model_channel=evil, test_channel=evil), title=evil)
    assert evil not in page
    reader = read(page)
    assert evil in reader.words
    assert reader.loads == []


def test_it_is_a_page_in_english_with_a_title(page: str) -> None:
    """The document says its language, and the title carries number and word."""
    assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert re.search(r"<title>Head drop, repeat 3 · 0\.\d\d\d (poor|fair|good|excellent)</title>", page)

"""Pictures of the pages: the server draws what the address says, or says why it cannot."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest
from dash import no_update

from dashboard.laboratory import Laboratory
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.pages.pair.saving import pair_picture
from dashboard.pages.pictures import drawn
from dashboard.pages.repeats.callbacks import repeats_picture
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.plots.test_picture import texts

if TYPE_CHECKING:
    from dashboard.components.pictures import Picture

DAY = date(2026, 3, 9)


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Write the small project."""
    return Project(write_project(tmp_path_factory.mktemp("small")))


def saved(project: Project, search: str) -> Picture:
    """Draw the pair of an address."""
    return pair_picture(PairAnalysis(project), search, DAY)


def test_every_release_that_is_drawn_has_its_rating(project: Project) -> None:
    """One line a release, with grade and test; without a repeat in the address, against their mean."""
    found = texts(saved(project, "?release=A1&over=A2&repeat=D01").svg)
    lines = [line for line in found if line.endswith("against test D01")]
    assert [line[:3] for line in lines] == ["A1:", "A2:"]
    assert found[0] == "Head acceleration X · Drop onto a plate"
    assert any(
        line.startswith("A1: ") and "each of 2 repeats" in line
        for line in texts(saved(project, "?release=A1").svg)
    )


def test_a_changed_curve_is_named_as_exploratory(project: Project) -> None:
    """Nobody takes the rating after a change for that of the release."""
    found = texts(saved(project, "?release=A1&shift=-1").svg)
    (line,) = [line for line in found if line.startswith("Exploratory")]
    (rating,) = [line for line in found if line.startswith("A1: ")]
    assert line.split(": ")[-1][:5] != rating[4:9]


def test_a_part_of_the_time_is_told(project: Project) -> None:
    """Who zoomed says so in the picture."""
    assert "CFC 60 · rated 0 ms to 40 ms · shown 5 ms to 20 ms" in texts(
        saved(project, "?cfc=60&left=5&right=20").svg
    )


def test_the_repeats_are_drawn_with_their_ceiling(project: Project) -> None:
    """Title, how the repeats rate each other, filter and interval."""
    picture = repeats_picture(Laboratory(project), "?case=drop", DAY)
    found = texts(picture.svg)
    assert picture.name == "drop-D0HEAD0000KMACXP-repeats"
    assert found[0] == "Head acceleration X · Drop onto a plate: repeats of the test"
    assert found[1].startswith("Rating of the repeats against each other: too few repeats (2")
    assert found[2] == "CFC 1000 · 0 ms to 40 ms"


def test_a_picture_that_is_saved_is_named_in_the_trail(
    project: Project, trail: list[tuple[str, str]]
) -> None:
    """Which pair, or which repeats, it shows."""
    drawn(lambda search, _: saved(project, search or ""), "?release=A1&over=A2&repeat=D01", "svg")
    drawn(lambda search, day: repeats_picture(Laboratory(project), search, day), "?case=drop", "png")
    assert trail == [
        ("saved a picture", "load case drop, channel D0HEAD0000KMACXP, release A1, A2, test D01"),
        ("saved a picture", "repeats of load case drop, channel D0HEAD0000KMACXP"),
    ]


def test_what_cannot_be_drawn_is_a_sentence(project: Project, trail: list[tuple[str, str]]) -> None:
    """No picture, no line of the trail, and the reason."""
    file, words = drawn(lambda search, _: saved(project, search or ""), "?release=A9", "svg")
    assert file is no_update
    assert trail == []
    assert "A9" in words

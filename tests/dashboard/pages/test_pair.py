"""The pair page: events in, everything that is shown out."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

import pytest
from dash import dcc, no_update

from correlate import CampaignReader, campaign_pairs
from correlate.plots import DARK, LIGHT
from dashboard import ids
from dashboard.components.frame import frame
from dashboard.pages.page import Event
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.pages.pair.callbacks import PICKED, outputs, show
from dashboard.pages.pair.layout import layout
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import parts, properties, text

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign

OPEN: dict[str, Any] = dict.fromkeys(PICKED)
FIRST: dict[str, Any] = {
    "release": "A1",
    "case": "drop",
    "repeat": "D01",
    "channel": "D0HEAD0000KMACXP",
    "cfc": "1000",
    "start_ms": 0,
    "end_ms": 40,
    "shift_ms": 0,
    "scale": 1,
    "offset": 0,
    "others": [],
    "parts": ["corridors", "repeats"],
    "interval": [0, 40],
}


def opened(project: Project, search: str = "", theme: str = "light") -> dict[str, Any]:
    """Open a link."""
    event = Event(trigger=None, search=search, picked=OPEN, theme=theme)
    return show(PairAnalysis(project), event)


def picked(project: Project, trigger: str, search: str = "", **changes: object) -> dict[str, Any]:
    """Pick something on the page of the first pair."""
    event = Event(trigger=trigger, search=search, picked=FIRST | changes, theme="light")
    return show(PairAnalysis(project), event)


def test_every_id_stands_on_the_page_once() -> None:
    """Each output and input of the callback has its component."""
    found = [str(part.id) for part in parts(frame([], layout(""))) if getattr(part, "id", None)]
    assert len(set(found)) == len(found)
    assert {str(output.component_id) for output in outputs().values()} <= set(found)
    assert {*PICKED.values(), ids.address_of("pair"), ids.THEME} <= set(found)


def test_an_opened_page_shows_the_mean_of_the_newest_release(project: Project, campaign: Campaign) -> None:
    """Without any key: the last release, the first channel, and the mean over every repeat of the test."""
    page = opened(project)
    pairs = [one for one in campaign_pairs(campaign) if one.release.name == "A2"][:2]
    ratings = [CampaignReader().score(campaign, one).rating for one in pairs]
    assert text(page["verdict"]).startswith(f"{sum(one.overall for one in ratings) / 2:.3f} ")
    for name in ("corridor", "phase", "magnitude", "slope"):
        mean = sum(getattr(one, name) for one in ratings) / 2
        assert f"{name.capitalize()} {mean:.2f}" in text(page["verdict"])
    assert "test each of 2 repeats" in text(page["heading"])
    assert page["repeat"] == ""
    links = {link["href"] for link in properties(page["details"], dcc.Link)}
    assert links == {f"/pair?release=A2&repeat={repeat}" for repeat in ("D01", "D02")}
    for file in ("laboratory/drop/D01.csv", "laboratory/drop/D02.csv", "releases/A2/drop.csv"):
        assert file in text(page["provenance"])


def test_one_repeat_shows_everything_of_its_pair(project: Project) -> None:
    """Heading, number, word, four scores, shift, settings, files and steps are there."""
    page = opened(project, "?release=A1&repeat=D01")
    assert page["rated_hidden"] is False
    assert page["problem"] == ""
    assert text(page["heading"]).startswith("Head acceleration X Drop onto a plate")
    shown = text(page["verdict"])
    assert "fair" in shown
    assert "model 3 ms late" in shown
    for name in ("Corridor", "Phase", "Magnitude", "Slope"):
        assert name in shown
    made = text(page["provenance"])
    for expected in ("CFC 1000", "laboratory/drop/D01.csv", "releases/A1/drop.csv", "Resample", "Crop"):
        assert expected in made
    assert page["tab_title"] == "0.765 fair · Head acceleration X"


def test_number_and_word_are_those_of_the_core(project: Project) -> None:
    """The page shows the rating that the core gives, rounded to two digits."""
    campaign = project.campaign()
    reader_score = CampaignReader().score(campaign, next(campaign_pairs(campaign)))
    shown = text(opened(project, "?release=A1&repeat=D01")["verdict"])
    assert shown.startswith(f"{reader_score.rating.overall:.3f} {reader_score.rating.grade}")
    for name in ("corridor", "phase", "magnitude", "slope"):
        assert f"{name.capitalize()} {getattr(reader_score.rating, name):.2f}" in shown


def test_every_hash_is_shown(project: Project) -> None:
    """All files are named with the SHA-256 of their bytes."""
    made = text(opened(project, "?release=A1")["provenance"])
    for file in ("laboratory/drop/D01.csv", "laboratory/drop/D02.csv", "releases/A1/drop.csv"):
        assert hashlib.sha256((project.folder / file).read_bytes()).hexdigest() in made


def test_opening_a_link_does_not_change_it(project: Project) -> None:
    """Only a pick writes the URL, so that the back button can leave a page."""
    assert opened(project, "?release=A2")["search"] is no_update


def test_picking_a_release_names_the_whole_pair(project: Project) -> None:
    """After a pick the link names everything that is picked and nothing that the campaign says anyway."""
    page = picked(project, ids.RELEASE, release="A2")
    assert page["search"] == "?release=A2&case=drop&repeat=D01&channel=D0HEAD0000KMACXP"
    assert "excellent" in text(page["verdict"])


def test_picking_a_load_case_picks_its_first_channel_and_the_mean(project: Project) -> None:
    """Channel, repeat, filter and interval of the old load case are let go."""
    page = picked(project, ids.CASE, case="impact", cfc="60", end_ms=30)
    assert page["search"] == "?release=A1&case=impact&channel=D0CHST0003KMDSXP"
    assert (page["channel"], page["repeat"], page["cfc"]) == ("D0CHST0003KMDSXP", "", "180")
    assert "held out of tuning" in text(page["heading"])


def test_picking_a_channel_lets_its_filter_follow(project: Project) -> None:
    """The filter goes back to that of the new channel; the interval stays."""
    page = picked(project, ids.CHANNEL, channel="D0HEAD0000KMACZP", cfc="60", end_ms=30)
    assert page["search"].endswith("channel=D0HEAD0000KMACZP&to=30")
    assert page["cfc"] == "600"


def test_filter_and_interval_change_the_rating_and_are_named(project: Project) -> None:
    """Another filter or interval is in the link, in the settings and in a way back."""
    plain = text(opened(project)["verdict"])
    page = picked(project, ids.END, end_ms=22.5, cfc="60")
    assert page["search"].endswith("&cfc=60&to=22.5")
    assert text(page["verdict"]) != plain
    assert "0 ms to 22.5 ms" in text(page["provenance"])
    assert "CFC 60" in text(page["provenance"])
    assert text(page["changes"]) == "Differs from the campaign. Back to CFC 1000, 0 to 40 ms"
    (way_back,) = properties(page["changes"], dcc.Link)
    assert way_back["href"] == "/pair?release=A1&case=drop&repeat=D01&channel=D0HEAD0000KMACXP"


def test_an_emptied_field_means_the_campaign(project: Project) -> None:
    """A field without a number gets that of the campaign back."""
    page = picked(project, ids.START, start_ms="")
    assert page["start_ms"] == "0"
    assert page["changes"] == ""


@pytest.mark.parametrize(
    ("search", "sentence"),
    [
        ("?from=30&to=20", "0.03 s to 0.02 s is not an interval; give a start and a later end"),
        ("?to=500", "the interval 0 s to 0.5 s reaches beyond the data"),
        ("?case=impact&cfc=1000", "5000 samples a second are too few for CFC 1000, which needs 10000"),
        ("?from=1&to=1.5", "fewer than 20"),
        ("?from=soon", "'soon' is not a valid number"),
    ],
)
def test_what_cannot_be_rated_says_why_and_leads_back(project: Project, search: str, sentence: str) -> None:
    """The sentence of the core stands in a message with a way out; the pair is still named."""
    page = opened(project, search)
    assert page["rated_hidden"] is True
    assert sentence in text(page["problem"])
    assert page["heading"]
    (way_out,) = properties(page["problem"], dcc.Link)
    assert opened(project, way_out["href"].removeprefix("/pair"))["rated_hidden"] is False


@pytest.mark.parametrize("search", ["?release=A9", "?case=fall", "?channel=X", "?repeat=X"])
def test_a_link_to_nothing_says_so(project: Project, search: str) -> None:
    """A pair that is not in the campaign gives a message and a link to the first."""
    page = opened(project, search)
    assert text(page["problem"]).startswith("There is no such pair")
    (way_out,) = properties(page["problem"], dcc.Link)
    assert way_out["href"] == "/pair"


def test_a_missing_result_is_a_message(tmp_path: Path) -> None:
    """A release without its file is named; nothing on the page could change that, and it says so."""
    project = Project(write_project(tmp_path))
    (tmp_path / "releases/A1/drop.csv").unlink()
    page = opened(project, "?release=A1")
    assert "releases/A1/drop.csv" in text(page["problem"])
    assert "reload this page" in text(page["problem"])


def test_an_empty_folder_says_what_is_missing(tmp_path: Path) -> None:
    """Without a campaign the menus are hidden and the page says what to put where."""
    page = opened(Project(tmp_path))
    assert page["controls_hidden"] is True
    assert text(page["problem"]).startswith("There is no campaign in this folder yet")
    assert "campaign.toml" in text(page["problem"])


def test_mistakes_in_the_campaign_are_listed(tmp_path: Path) -> None:
    """A campaign with mistakes is answered with all of them."""
    (write_project(tmp_path) / "campaign.toml").write_text(
        '[campaign]\ntitle = "x"\ncolour = "red"\n', encoding="utf-8"
    )
    page = opened(Project(tmp_path))
    assert text(page["problem"]).startswith("The campaign file contains errors")
    assert "colour" in text(page["problem"])
    assert "load_case" in text(page["problem"])


def test_a_load_case_without_tests_is_a_message(tmp_path: Path) -> None:
    """Tests that are not there are named; other load cases can still be picked."""
    project = Project(write_project(tmp_path))
    for file in (tmp_path / "laboratory/drop").iterdir():
        file.unlink()
    assert "laboratory/drop/*.csv" in text(opened(project)["problem"])
    assert picked(project, ids.CASE, case="impact")["rated_hidden"] is False


def test_the_figure_follows_the_theme(project: Project) -> None:
    """Light and dark figures have the colours of their palettes; light is the default."""
    assert opened(project, theme="dark")["figure"].layout.paper_bgcolor == DARK.panel
    assert opened(project, theme="light")["figure"].layout.paper_bgcolor == LIGHT.panel


def test_every_value_has_its_output(project: Project, tmp_path: Path) -> None:
    """Whatever happens, the page sets every output once, and none besides."""
    for page in (opened(project), opened(project, "?from=9&to=1"), opened(Project(tmp_path))):
        assert page.keys() == outputs().keys()

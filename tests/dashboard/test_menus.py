"""What can be picked, in text for display."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from correlate import load_campaign
from dashboard.menus import Menu, menus
from dashboard.selection import Address
from tests.dashboard.project import CAMPAIGN, write_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign


def words(menu: Menu) -> dict[str, str]:
    """Return the words of each entry by its name, groups opened."""
    flat: list[Any] = []
    for entry in menu.options:
        flat += entry.get("items", [entry])
    return {entry["value"]: entry["label"] for entry in flat}


def test_entries_have_words_for_people(campaign: Campaign) -> None:
    """Titles and notes are shown, codes are described, repeats are counted."""
    shown = menus(campaign, Address())
    assert words(shown.release) == {"A1": "A1 · First guess", "A2": "A2"}
    assert words(shown.case) == {"drop": "Drop onto a plate", "impact": "Impact with a probe"}
    assert words(shown.repeat) == {"": "Mean of the repeats (2)", "D01": "1 · D01", "D02": "2 · D02"}
    assert words(shown.channel)["D0HEAD0000KMACXP"] == "Head acceleration X"


def test_the_usual_entries_are_picked_where_the_address_is_open(campaign: Campaign) -> None:
    """An open address picks the last release, the mean of the repeats, and the first of everything else."""
    shown = menus(campaign, Address())
    picked = [menu.value for menu in (shown.release, shown.case, shown.repeat, shown.channel, shown.cfc)]
    assert picked == ["A2", "drop", "", "D0HEAD0000KMACXP", "1000"]
    assert (shown.start_ms, shown.end_ms) == ("0", "40")


def test_the_filter_of_the_campaign_is_marked(campaign: Campaign) -> None:
    """All classes and no filter can be picked; that of the campaign says so, also when it is none."""
    of_first = words(menus(campaign, Address(cfc="60")).cfc)
    assert list(of_first) == ["none", "60", "180", "600", "1000"]
    assert [name for name, text in of_first.items() if "as in campaign" in text] == ["1000"]
    of_lumbar = menus(campaign, Address(case="impact", channel="D0LUSP0000KMFOZP"))
    assert words(of_lumbar.cfc)["none"] == "No filter · as in campaign"
    assert of_lumbar.cfc.value == "none"


def test_channels_are_grouped_by_body_region(campaign: Campaign) -> None:
    """Several regions make groups, one region makes none."""
    groups = menus(campaign, Address(case="impact")).channel.options
    assert [entry.get("group") for entry in groups] == ["thorax", "spine"]
    assert [entry.get("group") for entry in menus(campaign, Address()).channel.options] == [None, None]


def test_channels_of_the_same_words_carry_their_codes(tmp_path: Path) -> None:
    """Two channels that read alike can be told apart."""
    folder = write_project(tmp_path)
    text = CAMPAIGN.replace("D0HEAD0000KMACZP", "D0HEAD0003KMACXP")
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    assert list(words(menus(load_campaign(folder), Address()).channel).values()) == [
        "Head acceleration X · D0HEAD0000KMACXP",
        "Head acceleration X · D0HEAD0003KMACXP",
    ]


@pytest.mark.parametrize(
    ("address", "open_menu"),
    [
        (Address(release="A9"), "release"),
        (Address(case="fall"), "case"),
        (Address(repeat="X"), "repeat"),
        (Address(channel="X"), "channel"),
        (Address(cfc="17"), "cfc"),
    ],
)
def test_a_name_that_is_not_there_leaves_its_menu_open(
    campaign: Campaign, address: Address, open_menu: str
) -> None:
    """The menu shows what there is, with nothing picked."""
    shown = menus(campaign, address)
    menu = getattr(shown, open_menu)
    assert menu.value is None
    assert menu.options


def test_a_load_case_without_tests_has_no_repeats(tmp_path: Path) -> None:
    """Tests that are not there empty one menu and leave the others alone."""
    folder = write_project(tmp_path)
    for file in (folder / "laboratory/drop").iterdir():
        file.unlink()
    shown = menus(load_campaign(folder), Address())
    assert shown.repeat.options == []
    assert shown.channel.value == "D0HEAD0000KMACXP"

"""How an address leads to a pair and to the way it is compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import CorrelateError
from dashboard.selection import Address, changed_recipe, read_query, selected, without_repetition, write_query

if TYPE_CHECKING:
    from correlate import Campaign


def test_an_open_address_leads_to_the_first_pair(campaign: Campaign) -> None:
    """First load case, first channel, last release, every repeat, as in the campaign."""
    selection = selected(campaign, Address())
    assert (selection.pair.release.name, selection.pair.load_case.name) == ("A2", "drop")
    assert {pair.channel.name for pair in selection.pairs} == {"D0HEAD0000KMACXP"}
    assert [pair.repeat for pair in selection.pairs] == ["D01", "D02"]
    assert (selection.repeat, selection.repeat_words) == ("", "each of 2 repeats")
    assert selection.recipe == selection.pair.recipe


def test_an_address_leads_to_what_it_names(campaign: Campaign) -> None:
    """Names pick the pair; filter and interval replace those of the campaign, in s."""
    address = Address(
        release="A2",
        case="impact",
        repeat="I02",
        channel="D0LUSP0000KMFOZP",
        cfc="60",
        start_ms="2",
        end_ms="30.5",
    )
    selection = selected(campaign, address)
    assert [path.name for path in selection.pair.test_paths] == ["I02.csv"]
    assert selection.pair.model_path.as_posix().endswith("releases/A2/impact.csv")
    assert selection.recipe.cfc == 60
    assert (selection.recipe.start_s, selection.recipe.end_s) == pytest.approx((0.002, 0.0305))


def test_no_filter_can_be_asked_for(campaign: Campaign) -> None:
    """The word none takes the filter of the campaign away."""
    assert selected(campaign, Address(cfc="none")).recipe.cfc is None


@pytest.mark.parametrize(
    ("address", "message"),
    [
        (Address(release="A9"), "there is no release 'A9'.*A1, A2"),
        (Address(case="fall"), "there is no load case 'fall'.*drop, impact"),
        (Address(repeat="I01"), "there is no repeat 'I01'; it has D01, D02"),
        (Address(channel="head"), "there is no channel 'head'; it has D0HEAD0000KMACXP"),
        (Address(cfc="181"), "no channel frequency class 181"),
        (Address(cfc="60.5"), "'cfc' in the address: '60.5' is not a valid number"),
        (Address(start_ms="soon"), "'from' in the address: 'soon' is not a valid number"),
        (Address(start_ms="nan"), "'from' in the address: 'nan' is not a valid number"),
        (Address(start_ms="30", end_ms="20"), "0.03 s to 0.02 s is not an interval"),
    ],
)
def test_a_wrong_address_is_answered_in_a_sentence(
    campaign: Campaign, address: Address, message: str
) -> None:
    """What is not there, or cannot be, is named."""
    with pytest.raises(CorrelateError, match=message):
        selected(campaign, address)


def test_what_the_campaign_says_is_left_out(campaign: Campaign) -> None:
    """Only what differs from the campaign stays in the link."""
    picked = Address(case="drop", cfc="1000", start_ms="0", end_ms="30")
    assert without_repetition(campaign, picked) == Address(case="drop", end_ms="30")


def test_a_recipe_keeps_what_the_address_leaves_open(campaign: Campaign) -> None:
    """Signs, offsets, step and the open end of the interval stay."""
    recipe = selected(campaign, Address()).pair.recipe
    changed = changed_recipe(recipe, Address(end_ms="30"))
    assert changed.end_s == pytest.approx(0.03)
    assert (changed.start_s, changed.cfc, changed.step_s) == (recipe.start_s, recipe.cfc, recipe.step_s)


KEYS = st.sampled_from(["release", "against", "case", "channel", "width", "windows"])


@given(before=st.dictionaries(KEYS, st.text(max_size=8)), written=st.dictionaries(KEYS, st.text(max_size=8)))
def test_a_written_address_keeps_the_other_keys(before: dict[str, str], written: dict[str, str]) -> None:
    """What a page sets stands in its address, and what it does not know stays there."""
    search = write_query(written, write_query(before))
    assert read_query(search, before | written) == before | written

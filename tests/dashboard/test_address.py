"""The URL carries the state of the page."""

from __future__ import annotations

from dataclasses import astuple

from hypothesis import given
from hypothesis import strategies as st

from dashboard.selection import Address

texts = st.text(max_size=30)


@given(st.builds(Address, **dict.fromkeys(Address.__slots__, texts)))
def test_an_address_survives_the_address_line(address: Address) -> None:
    """Whatever is picked, the link leads back to it."""
    assert Address.from_search(address.as_search()) == address


def test_what_is_open_is_not_written() -> None:
    """Empty entries take no room, and nothing at all leaves a bare question mark."""
    assert Address(release="A1", start_ms="5").as_search() == "?release=A1&from=5"
    assert Address().as_search() == "?"


def test_nothing_and_unknown_keys_leave_everything_open() -> None:
    """A link without a query, or with keys of somebody else, names no pair."""
    for search in (None, "", "?", "?utm_source=mail&x"):
        assert set(astuple(Address.from_search(search))) == {""}

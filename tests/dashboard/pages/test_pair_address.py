"""The URL of the pair page."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import CorrelateError, CurveChange
from dashboard.pages.pair.address import PARTS, PairAddress
from dashboard.pages.pair.callbacks import window_of
from dashboard.selection import Address

NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=8)
NUMBERS = st.floats(-1e3, 1e3).map(lambda value: f"{value:.5g}")


@given(
    release=NAMES,
    against=NAMES | st.just(""),
    others=st.lists(NAMES, max_size=3, unique=True),
    parts=st.sets(st.sampled_from(list(PARTS))),
    numbers=st.tuples(NUMBERS | st.just(""), NUMBERS | st.just("")),
)
def test_an_address_reads_back(
    release: str, against: str, others: list[str], parts: set[str], numbers: tuple[str, str]
) -> None:
    """Whatever is shown, its link leads back to it, with any names."""
    address = PairAddress(
        pair=Address(release=release),
        against=against,
        others=tuple(others),
        parts=tuple(part for part in PARTS if part in parts),
        shift_ms=numbers[0],
        left_ms=numbers[1],
    )
    assert PairAddress.from_search(address.as_search()) == address


@given(release=NAMES, against=NAMES | st.just(""), names=st.lists(NAMES, max_size=4))
def test_picked_overlays_are_drawn_once_and_never_over_themselves(
    release: str, against: str, names: list[str]
) -> None:
    """Whatever is picked is drawn, but the release itself; the baseline stays one as long as it is picked."""
    picked = PairAddress(pair=Address(release=release), against=against).overlaid(names)
    assert set(picked.overlays) == set(names) - {release}
    assert len(picked.overlays) == len(set(picked.overlays))
    assert picked.against == (against if against in picked.overlays else "")


def test_what_is_usual_is_not_written() -> None:
    """An address without anything special is short."""
    assert PairAddress(pair=Address(release="A1")).as_search() == "?release=A1"
    assert PairAddress().changed({"shift_ms": 0.0, "scale": 1.0, "offset": 0.0}) == PairAddress()


def test_a_change_is_in_seconds() -> None:
    """The link holds ms, the core gets s."""
    assert PairAddress(shift_ms="-1.5", scale="1.1").change == CurveChange(shift_s=-0.0015, scale=1.1)


@pytest.mark.parametrize("search", ["?shift=soon", "?scale=nan", "?offset=inf"])
def test_a_change_that_is_no_number_is_refused(search: str) -> None:
    """The sentence names the key."""
    key = search[1:].split("=", maxsplit=1)[0]
    with pytest.raises(CorrelateError, match=f"is not a valid number.*'{key}'|'{key}' in the address"):
        _ = PairAddress.from_search(search).change


def test_a_window_needs_its_ends_in_order() -> None:
    """An end before the start is refused, one end alone means all of it."""
    assert PairAddress(left_ms="5").window_s is None
    assert PairAddress(left_ms="5", right_ms="7.5").window_s == (0.005, 0.0075)
    with pytest.raises(CorrelateError, match="cannot show 7 ms to 5 ms"):
        _ = PairAddress(left_ms="7", right_ms="5").window_s


@pytest.mark.parametrize(
    ("zoom", "expected"),
    [
        ({"xaxis.range[0]": 3.0, "xaxis.range[1]": 9.0}, (3.0, 9.0)),
        ({"xaxis.range": [3, 9]}, (3.0, 9.0)),
        ({"xaxis.range[0]": 0.0, "xaxis.range[1]": 40.0}, None),
        ({"xaxis.autorange": True}, None),
        (None, None),
    ],
)
def test_a_zoom_is_read(zoom: dict[str, object] | None, expected: tuple[float, float] | None) -> None:
    """Both ways in which a picture reports its range are read; all of it is no zoom."""
    assert window_of(zoom, (0.0, 40.0)) == expected

"""Ceilings go in, replace their predecessors, and come back as they were."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import ChannelCeiling
from correlate.errors import StoreError

if TYPE_CHECKING:
    from correlate.store import Store

ONE = ChannelCeiling(
    key="k1",
    campaign="KELP-M",
    load_case="drop",
    channel="Δ head",
    median=0.95,
    lowest=0.9,
    highest=0.97,
    reference_peak=12.5,
    repeats=5,
)
OTHER = replace(ONE, key="k2", channel="chest", median=0.93)


def test_ceilings_come_back_as_they_were(store: Store) -> None:
    """Those of the campaign are there, sorted; those of others are not."""
    store.keep_ceilings([ONE, OTHER, replace(ONE, campaign="other")])
    assert store.ceilings("KELP-M") == [OTHER, ONE]
    assert store.ceilings("nothing") == []


def test_a_later_ceiling_takes_the_place_of_the_earlier(store: Store) -> None:
    """A channel has one ceiling; keeping it again changes nothing; none at all is no fault."""
    store.keep_ceilings([ONE])
    later = replace(ONE, key="k3", median=0.91)
    store.keep_ceilings([later])
    store.keep_ceilings([later])
    store.keep_ceilings([])
    assert store.ceilings("KELP-M") == [later]


@pytest.mark.parametrize(
    "wrong",
    [
        {"median": 1.2},
        {"median": float("nan")},
        {"lowest": 0.96},
        {"reference_peak": float("inf")},
        {"channel": "a\0"},
    ],
)
def test_a_ceiling_that_cannot_be_is_refused(store: Store, wrong: dict[str, object]) -> None:
    """Nothing of the lot is kept, and the sentence names the channel."""
    with pytest.raises(StoreError, match=r"KELP-M / drop.*cannot be saved"):
        store.keep_ceilings([OTHER, replace(ONE, **wrong)])  # type: ignore[arg-type]
    assert store.ceilings("KELP-M") == []

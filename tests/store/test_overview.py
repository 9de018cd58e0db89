"""The quick look at all pairs says the same as the thorough one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.store.writer import RUN, numbered_record

if TYPE_CHECKING:
    from correlate.store import Store


def test_rated_pairs_are_the_present_ratings(store: Store) -> None:
    """Names, numbers and ingredients are those of the full records, in their order."""
    store.keep([numbered_record(number) for number in range(40)], run=RUN)
    full = store.ratings(campaign="KELP-M")
    assert len(full) == 40
    quick = store.rated_pairs("KELP-M")
    names = ("release", "load_case", "channel", "repeat", "overall", "ingredients")
    for one, other in zip(quick, full, strict=True):
        assert [getattr(one, name) for name in names] == [getattr(other, name) for name in names]


def test_pairs_of_a_place_can_be_asked_for_alone(store: Store) -> None:
    """Of one release and channel, as they are among all."""
    store.keep([numbered_record(number) for number in range(40)], run=RUN)
    every = store.rated_pairs("KELP-M")
    wanted = {"release": every[0].release, "channel": every[0].channel}
    kept = [one for one in every if all(getattr(one, name) == value for name, value in wanted.items())]
    assert 0 < len(kept) < len(every)
    assert store.rated_pairs("KELP-M", **wanted) == kept


def test_another_campaign_has_none(store: Store) -> None:
    """Pairs of one campaign are not those of another."""
    store.keep([numbered_record(0)], run=RUN)
    assert store.rated_pairs("other") == []

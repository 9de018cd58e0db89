"""What changed between two releases, and whether it is more than the scatter of the tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.campaign.aggregation import ReleaseScore, Score


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One number in two releases.

    Attributes
    ----------
    kind
        ``release``, ``load case``, ``region`` or ``channel``.
    place
        Names from the load case down; of a region over all load cases, its name.
    words
        For people.
    before, after
        Ratings; None when it was not rated.
    spread
        Larger of the two standard deviations over the repeats; None with fewer than two repeats.
    held_out
        Whether it belongs to the load cases that tuning may not use.
    """

    kind: str
    place: tuple[str, ...]
    words: str
    before: float | None
    after: float | None
    spread: float | None
    held_out: bool

    @property
    def difference(self) -> float | None:
        """``after - before``; None when one of them is missing."""
        if self.before is None or self.after is None:
            return None
        return self.after - self.before

    @property
    def is_within_scatter(self) -> bool | None:
        """Whether the difference is smaller than the repeat-to-repeat spread; None when that is unknown."""
        if self.difference is None or self.spread is None:
            return None
        return abs(self.difference) <= self.spread

    @property
    def verdict(self) -> str:
        """The difference in words."""
        if self.difference is None:
            return "rated in one release only"
        if self.is_within_scatter:
            return "within test scatter"
        return "gain" if self.difference > 0 else "loss"


def compare(before: ReleaseScore, after: ReleaseScore) -> list[Change]:
    """List what changed, the biggest difference first within each kind.

    Parameters
    ----------
    before, after
        Two releases of one campaign.

    Returns
    -------
    list of Change
        Releases first (training, then held-out), then body regions, load cases, channels.
    """
    changes = [
        *_changes(before.training, after.training, held_out=False),
        *(_change(("regions", one.name), one, two, held_out=False) for one, two in _regions(before, after)),
    ]
    if before.held_out and after.held_out:
        changes += _changes(before.held_out, after.held_out, held_out=True)
    order = ["release", "region", "load case", "channel"]
    listed = [change for change in changes if change.kind in order]
    return sorted(listed, key=lambda change: (order.index(change.kind), -abs(change.difference or 0.0)))


def _regions(before: ReleaseScore, after: ReleaseScore) -> Iterator[tuple[Score, Score]]:
    later = {region.name: region for region in after.regions}
    return ((region, later[region.name]) for region in before.regions if region.name in later)


def _changes(before: Score, after: Score, *, held_out: bool) -> Iterator[Change]:
    """Yield the release, its load cases and its channels; regions are listed over all load cases."""
    yield _change((), before, after, held_out=held_out)
    for one, two in zip(before.parts, after.parts, strict=True):
        yield _change((one.name,), one, two, held_out=held_out)
        later = dict(_leaves(two, ()))
        for place, channel in _leaves(one, ()):
            yield _change((one.name, *place), channel, later[place], held_out=held_out)


def _leaves(score: Score, place: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Score]]:
    for part in score.parts:
        if part.kind == "channel":
            yield (*place, part.name), part
        else:
            yield from _leaves(part, (*place, part.name))


def _change(place: tuple[str, ...], before: Score, after: Score, *, held_out: bool) -> Change:
    spreads = [score.spread for score in (before, after) if score.spread is not None]
    return Change(
        kind=before.kind,
        place=place,
        words=before.words,
        before=before.overall,
        after=after.overall,
        spread=max(spreads) if spreads else None,
        held_out=held_out,
    )

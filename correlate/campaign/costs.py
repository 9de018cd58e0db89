"""What each channel costs a release, in points of the release's rating."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from correlate.campaign.aggregation import Score
    from correlate.evaluation.record import PairRecord
    from correlate.metrics.iso18571 import Weights

COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")
"""The four parts of the rating."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelCost:
    """What one channel costs the release.

    Attributes
    ----------
    load_case, channel
        Names, as in the campaign file.
    words
        The channel for people.
    region
        Body region it counts for.
    weight
        Its share in the rating of the release: the product of the shares from the channel up.
    rating
        Mean over the repeats; None when it is not rated.
    cost
        ``weight · (1 - rating)``, in rating points of the release. The costs of all channels add up to
        1 minus the rating of the release.
    by_component
        The cost split over corridor, phase, magnitude and slope; it adds up to `cost`. Empty when nothing
        is rated or nothing is lost.
    errors
        Mean over the repeats of what each component calls its error: the lost corridor score, the shift in s
        (positive when the model is late), the relative difference of sizes along the warping path and of
        slopes. A component whose error no repeat could tell is left out.
    repeats
        Rated repeats.
    """

    load_case: str
    channel: str
    words: str
    region: str
    weight: float
    rating: float | None
    cost: float
    by_component: Mapping[str, float]
    errors: Mapping[str, float]
    repeats: int

    @property
    def mostly(self) -> str | None:
        """The component that costs most; None when none is known."""
        return max(self.by_component, key=self.by_component.__getitem__) if self.by_component else None


def channel_costs(
    score: Score, records: Iterable[PairRecord], *, release: str, weights: Weights
) -> tuple[ChannelCost, ...]:
    r"""Share what is missing to 1 among the channels, the most expensive first.

    .. math:: 1 - R = \sum_c W_c (1 - R_c), \qquad \sum_c W_c = 1

    where :math:`W_c` is the product of the shares on the way from channel :math:`c` up to the release.

    Parameters
    ----------
    score
        The tree of a release, training or held out.
    records
        The rated pairs; those of other releases are passed over.
    release
        Its name.
    weights
        Of the components in the rating of a pair.

    Returns
    -------
    tuple of ChannelCost
        Every channel of the tree. A channel that is not rated costs nothing where the campaign leaves it
        out, and its whole weight where the campaign counts it as 0.

    Notes
    -----
    Derived here. Where the campaign combines another measure than the rating, the cost is that of the
    measure, and the components share it as they share the loss of the rating.
    """
    found: dict[tuple[str, str], list[PairRecord]] = {}
    for record in records:
        if record.release == release:
            found.setdefault((record.load_case, record.channel), []).append(record)
    costs = [
        _cost(leaf, place, weight, found.get((place[0], leaf.name), []), weights)
        for place, weight, leaf in _leaves(score, (), 1.0)
    ]
    return tuple(sorted(costs, key=lambda one: -one.cost))


def by_load_case(costs: Sequence[ChannelCost]) -> dict[str, float]:
    """Add up the costs of each load case, the most expensive first.

    Parameters
    ----------
    costs
        Of the channels.

    Returns
    -------
    dict
        Rating points by the name of the load case.
    """
    sums: dict[str, float] = {}
    for one in costs:
        sums[one.load_case] = sums.get(one.load_case, 0.0) + one.cost
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def by_component(costs: Sequence[ChannelCost]) -> dict[str, float]:
    """Add up the costs of each component, the most expensive first.

    Parameters
    ----------
    costs
        Of the channels.

    Returns
    -------
    dict
        Rating points by the name of the component; what channels cost whose components are not known is
        under ``not rated``.
    """
    sums = {name: sum(one.by_component.get(name, 0.0) for one in costs) for name in COMPONENTS}
    missing = sum(one.cost for one in costs if not one.by_component)
    if missing:
        sums["not rated"] = missing
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def _leaves(
    score: Score, place: tuple[str, ...], weight: float
) -> Iterator[tuple[tuple[str, ...], float, Score]]:
    """Yield the names above each channel below the release, its share in the release, and the channel."""
    for part in score.parts:
        share = weight * part.weight
        if part.kind == "channel":
            yield place, share, part
        else:
            yield from _leaves(part, (*place, part.name), share)


def _cost(
    leaf: Score, place: tuple[str, ...], weight: float, records: Sequence[PairRecord], weights: Weights
) -> ChannelCost:
    cost = weight * (1.0 - (leaf.overall or 0.0))
    lost = {name: getattr(weights, name) * _mean_loss(records, name) for name in COMPONENTS}
    total = sum(lost.values())
    return ChannelCost(
        load_case=place[0],
        channel=leaf.name,
        words=leaf.words,
        region=place[1],
        weight=weight,
        rating=leaf.overall,
        cost=cost,
        by_component={name: cost * value / total for name, value in lost.items()} if total > 0 else {},
        errors=_mean_errors(records),
        repeats=leaf.repeats,
    )


def _mean_loss(records: Sequence[PairRecord], component: str) -> float:
    values: list[float] = [1.0 - getattr(record, component) for record in records]
    return sum(values) / len(values) if values else 0.0


def _mean_errors(records: Sequence[PairRecord]) -> dict[str, float]:
    columns: dict[str, list[float]] = {name: [] for name in COMPONENTS}
    for record in records:
        columns["corridor"].append(1.0 - record.corridor)
        columns["phase"].append(record.shift_s)
        for name in ("magnitude", "slope"):
            error = record.ingredients.get(name, {}).get("error")
            if error is not None:
                columns[name].append(error)
    return {name: sum(values) / len(values) for name, values in columns.items() if values}

"""One load case of a release, examined: its channels one by one, and what they share."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from correlate.campaign.pair_explanation import feigns_material
from correlate.campaign.sought_suspects import SuspectSearch
from correlate.diagnosis.accounting import LossAccount, account_for_loss
from correlate.diagnosis.clusters import Cluster, cluster_residuals
from correlate.diagnosis.hints import Hint, hints
from correlate.errors import CorrelateError
from correlate.evaluation.case import CaseEvaluation, typical_repeat
from correlate.evaluation.curves import Curve, is_travel
from correlate.metrics.iso18571 import rate
from correlate.reference.scatter import HardwareScatter, hardware_scatter

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from correlate.campaign.costs import ChannelCost
    from correlate.diagnosis.suspects import Suspect
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.record import PairRecord
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelExplanation:
    """One channel of a release, examined.

    Attributes
    ----------
    cost
        What it costs the release.
    repeat
        The repeat whose rating is nearest to the mean; account and suspects are of the model against it.
        Empty when nothing is rated.
    account
        The loss of that pair over time; None when nothing is rated.
    hardware
        Scatter of the repeats; None with fewer than three.
    suspects
        Data-handling errors that the pair looks like, best first. None are sought for a resultant; its axes
        are examined.
    model_is_zero
        Whether the model is zero throughout: not connected, or the wrong column.
    """

    cost: ChannelCost
    repeat: str
    account: LossAccount | None
    hardware: HardwareScatter | None
    suspects: tuple[Suspect, ...]
    model_is_zero: bool = False

    @property
    def hardware_cost(self) -> float | None:
        """What the channel would cost if the model were as good as the hardware; None when unknown."""
        return None if self.hardware is None else self.cost.weight * (1.0 - self.hardware.rating)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCaseExplanation:
    """What the channels of one load case share.

    Attributes
    ----------
    load_case
        Its name.
    cost
        Of its channels together, in rating points of the release.
    step_s
        Time step of the comparison, s.
    clusters
        Channels whose residuals move together, by their names in the campaign file.
    hints
        To the behaviour of materials, the best supported first.
    waiting
        Examined channels that give no hints, because a turned sign or a wrong unit is suspected first, or the
        model is zero throughout.
    rated
        Whether anything is rated.
    """

    load_case: str
    cost: float
    step_s: float
    clusters: tuple[Cluster, ...]
    hints: tuple[Hint, ...]
    waiting: tuple[str, ...] = ()
    rated: bool = True


class CaseExaminer:
    """Examines one load case of one release; its curves are read and conditioned once.

    Parameters
    ----------
    campaign, load_case, release
        Which curves.
    records
        The rated pairs of this load case and release.
    """

    def __init__(
        self, campaign: Campaign, load_case: LoadCase, release: Release, records: Sequence[PairRecord]
    ) -> None:
        self._campaign = campaign
        self._release = release
        self._case = CaseEvaluation(campaign, load_case)
        self._searches: dict[str, SuspectSearch] = {}
        self._records: dict[str, list[PairRecord]] = {}
        for record in records:
            self._records.setdefault(record.channel, []).append(record)

    def channel(self, cost: ChannelCost) -> ChannelExplanation:
        """Examine one channel.

        Parameters
        ----------
        cost
            Of the channel.

        Returns
        -------
        ChannelExplanation
        """
        pairs = self.pairs.get(cost.channel, {})
        repeat = self._typical(cost.channel)
        rated = repeat in pairs
        return ChannelExplanation(
            cost=cost,
            repeat=repeat if rated else "",
            account=account_for_loss(rate(pairs[repeat], self._campaign.settings)) if rated else None,
            hardware=self._hardware(cost.channel),
            suspects=self._suspects(cost.channel, repeat),
            model_is_zero=rated and not np.any(pairs[repeat].candidate),
        )

    def load_case(
        self, costs: Sequence[ChannelCost], examined: Sequence[ChannelExplanation] = ()
    ) -> LoadCaseExplanation:
        """Say what the channels share.

        Parameters
        ----------
        costs
            Of the channels of this load case, the most expensive first.
        examined
            Those of them that are examined.

        Returns
        -------
        LoadCaseExplanation
        """
        listed = [one.channel for one in costs if one.channel in self.pairs]
        waiting = [one.cost.channel for one in examined if one.model_is_zero or feigns_material(one.suspects)]
        residuals = {name: _mean_residual(list(self.pairs[name].values())) for name in listed}
        typical = {
            name: self.pairs[name][self._typical(name)]
            for name in listed
            if name not in waiting and self._typical(name) in self.pairs[name]
        }
        return LoadCaseExplanation(
            load_case=self._case.load_case.name,
            cost=sum(one.cost for one in costs),
            step_s=self._case.load_case.step_ms / 1e3,
            clusters=cluster_residuals(residuals),
            hints=hints(typical, travels=self._travels(typical), settings=self._campaign.settings)
            if typical
            else (),
            waiting=tuple(waiting),
            rated=any(one.rating is not None for one in costs),
        )

    def _travels(self, channels: Iterable[str]) -> list[str]:
        """Return the channels that are displacements or angles."""
        units = {name: next(iter(self._case.tests(name).values())).unit for name in channels}
        return [name for name, unit in units.items() if is_travel(unit)]

    @cached_property
    def pairs(self) -> dict[str, dict[str, AlignedPair]]:
        """Every pair that can be made, by channel and repeat, as it is rated."""
        found: dict[str, dict[str, AlignedPair]] = {}
        for pair in self._case.pairs(self._release):
            # The score lists what is not rated, with the reason.
            with suppress(CorrelateError):
                found.setdefault(pair.names.channel, {})[pair.names.repeat] = pair.aligned()
        return found

    def _typical(self, channel: str) -> str:
        """Return the repeat whose rating is nearest to the mean of all; empty when none is rated."""
        return typical_repeat({one.repeat: one.overall for one in self._records.get(channel, [])})

    def _hardware(self, channel: str) -> HardwareScatter | None:
        tests = list(self._case.tests(channel).values())
        curves = self._case.repeats(channel).values()
        first = next((curve for curve in curves if isinstance(curve, Curve)), None)
        model = None if first is None else self._case.candidate(channel, self._release, first)
        try:
            return hardware_scatter(
                tests,
                self._case.recipe(channel),
                self._campaign.settings,
                model=model.signal if isinstance(model, Curve) else None,
            )
        except CorrelateError:
            return None  # curves that do not cover the interval cannot be compared either

    def _suspects(self, channel: str, repeat: str) -> tuple[Suspect, ...]:
        """Seek suspects in the typical repeat; a mean curve, and what is not rated, in the first there is."""
        tests = self._case.tests(channel)
        if not tests:
            return ()
        named = repeat if repeat in self._case.paths else next(iter(tests))
        try:
            if named not in self._searches:
                self._searches[named] = SuspectSearch.in_case(self._case, self._release, named)
        except CorrelateError:
            return ()  # a file that cannot be read: the score says why
        return self._searches[named].of(channel)


def _mean_residual(pairs: Sequence[AlignedPair]) -> NDArray[np.float64]:
    """Return model minus test, averaged over the repeats; they share the grid of the load case."""
    return np.asarray(np.mean([pair.candidate - pair.reference for pair in pairs], axis=0))

"""The conditioned curves of a campaign, exactly those that its ratings are made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.display import frame, short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.case import CaseEvaluation
from correlate.metrics.iso18571 import check_pair

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.evaluation.case import CasePair
    from correlate.evaluation.definition import Campaign
    from correlate.pair import AlignedPair


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class PairCurves:
    """Both curves of one pair as they are rated: conditioned, on one grid, cut to the interval.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names of the pair; the repeat says where it is a mean.
    unit
        Of both curves; empty where there are none.
    pair
        The curves; None where the pair cannot be rated.
    reason
        Why there are none, in one sentence; empty where there are.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    unit: str
    pair: AlignedPair | None
    reason: str = ""

    def columns(self) -> dict[str, NDArray[np.float64] | list[str]]:
        """Return the long table of both curves, the test first.

        Returns
        -------
        dict
            ``release``, ``load_case``, ``channel``, ``repeat``, ``side`` (``test`` or ``model``), ``time_s``,
            ``value``, ``unit``, each with one entry per sample; none where there are no curves.
        """
        if self.pair is None:
            return no_curves()
        samples = len(self.pair)
        return {
            **{name: [getattr(self, name)] * (2 * samples) for name in _NAMES},
            "side": ["test"] * samples + ["model"] * samples,
            "time_s": np.concatenate([self.pair.time, self.pair.time]),
            "value": np.concatenate([self.pair.reference, self.pair.candidate]),
            "unit": [self.unit] * (2 * samples),
        }


def no_curves() -> dict[str, NDArray[np.float64] | list[str]]:
    """Return the columns of the long table without a row."""
    names: dict[str, NDArray[np.float64] | list[str]] = {name: [] for name in (*_NAMES, "side")}
    return {**names, "time_s": np.empty(0), "value": np.empty(0), "unit": []}


_NAMES = ("release", "load_case", "channel", "repeat")


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionedCurves:
    """The curves of a campaign, computed one pair at a time, so that few are in memory.

    Attributes
    ----------
    campaign
        The campaign.
    releases, load_cases
        Names, in the order in which the curves come: load case by load case, in it release by release.
    """

    campaign: Campaign
    releases: tuple[str, ...]
    load_cases: tuple[str, ...]

    def __iter__(self) -> Iterator[PairCurves]:
        """Yield every pair; one that cannot be rated says why."""
        for name in self.load_cases:
            case = CaseEvaluation(self.campaign, self.campaign.load_case(name))
            case.condition_tests()
            for release in self.releases:
                for pair in case.pairs(self.campaign.release(release)):
                    yield _curves_of(pair)
                case.forget_model()

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per sample of a curve; pairs without curves have none.

        Returns
        -------
        pandas.DataFrame
            ``release``, ``load_case``, ``channel``, ``repeat``, ``side`` (``test`` or ``model``), ``time_s``,
            ``value``, ``unit``.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        tables = [one.columns() for one in self if one.pair is not None] or [no_curves()]
        return frame({name: np.concatenate([table[name] for table in tables]) for name in tables[0]})


def conditioned_curves(
    campaign: Campaign, *, releases: Sequence[str] = (), load_cases: Sequence[str] = ()
) -> ConditionedCurves:
    """Return the conditioned curves that are rated in a campaign.

    Parameters
    ----------
    campaign
        The campaign.
    releases, load_cases
        Names; all when empty.

    Returns
    -------
    ConditionedCurves
        To iterate over, or to convert to a data frame with ``to_frame()``.

    Raises
    ------
    SettingsError
        A release or load case is unknown.
    """
    known = [release.name for release in campaign.releases]
    cases = [case.name for case in campaign.load_cases]
    return ConditionedCurves(
        campaign=campaign,
        releases=tuple(campaign.release(name).name for name in (releases or known)),
        load_cases=tuple(campaign.load_case(name).name for name in (load_cases or cases)),
    )


def _curves_of(pair: CasePair) -> PairCurves:
    names = {name: getattr(pair.names, name) for name in _NAMES}
    try:
        aligned = pair.aligned()
        # What the rating refuses has no curves either: they would look like rated ones.
        check_pair(aligned)
    except CorrelateError as error:
        return PairCurves(**names, unit="", pair=None, reason=str(error))
    return PairCurves(**names, unit=pair.curves[0].unit, pair=aligned)

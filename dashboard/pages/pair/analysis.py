"""Results computed for the pair page, cached for the same files and settings."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

from correlate import (
    CorrelateError,
    Recipe,
    case_scatter,
    channel_pairs,
    channel_rating,
    explain_campaign_pair,
    repeat_set,
)
from dashboard.selection import selected
from dashboard.state import stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from correlate import (
        Campaign,
        CasePair,
        ChannelRating,
        HardwareScatter,
        LossAccount,
        PairExplanation,
        RepeatSet,
        Signal,
    )
    from dashboard.selection import Address, Selection
    from dashboard.state import Project


_KEPT: Final = 64
"""Results that are kept; the oldest go first."""


@dataclass(slots=True)
class PairAnalysis:
    """The channels of a project, as the analyst looks at them.

    Attributes
    ----------
    project
        Of the server.
    """

    project: Project
    _lock: Lock = field(default_factory=Lock, repr=False)
    _kept: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict, repr=False)

    def selected(self, campaign: Campaign, address: Address) -> Selection:
        """Look up what an address names; without a release, the newest that is rated."""
        release = address.release or self.project.newest_rated(campaign)
        return selected(campaign, replace(address, release=release))

    def signals(self, campaign: Campaign, selection: Selection) -> list[Signal]:
        """Return the conditioned curves of tests and model, not yet cut to the interval."""
        pairs = [pair for pair in self._pairs(campaign, selection).values() if pair.missing is None]
        return [curve.signal for pair in pairs for curve in pair.curves]

    def rated(self, campaign: Campaign, selection: Selection) -> ChannelRating:
        """Rate a channel against the repeat that is selected, or against all of them."""
        pairs = self._pairs(campaign, selection)
        found: ChannelRating = self._once(
            self._key("rated", campaign, selection), lambda: channel_rating(pairs)
        )
        return found

    def others(
        self, campaign: Campaign, selection: Selection, names: tuple[str, ...]
    ) -> tuple[dict[str, ChannelRating], dict[str, str]]:
        """Rate further releases against the same tests; of those that cannot be rated return why."""
        rated: dict[str, ChannelRating] = {}
        refused: dict[str, str] = {}
        for name in names:
            other = _of_release(campaign, selection, name)
            try:
                rated[name] = self.rated(campaign, other)
            except CorrelateError as error:
                refused[name] = str(error)
        return rated, refused

    def account(self, campaign: Campaign, selection: Selection) -> LossAccount:
        """Share the loss of a channel out over time."""
        rated = self.rated(campaign, selection)
        found: LossAccount = self._once(self._key("account", campaign, selection), rated.account)
        return found

    def spread(self, campaign: Campaign, selection: Selection) -> RepeatSet | None:
        """Return all repeats of the test, conditioned alike and where each was recorded."""
        case = self.project.evaluation(campaign, selection)
        if len(case.paths) == 1:
            return None
        pair = selection.pair
        stamps = tuple(stamp_of(path) for path in case.paths.values())
        recipe = selection.recipe
        # The curves are conditioned already: only the interval is still to be cut.
        cut = Recipe(start_s=recipe.start_s, end_s=recipe.end_s, step_s=recipe.step_s)

        def all_repeats() -> RepeatSet:
            tests = list(case.tests(pair.channel.name).values())
            return repeat_set(tests, cut, largest_shift_s=0.0)

        key = ("spread", campaign.sha256, pair.load_case.name, pair.channel.name, recipe, stamps)
        try:
            found: RepeatSet = self._once(key, all_repeats)
        except CorrelateError:
            return None
        return found

    def scatter(self, campaign: Campaign, selection: Selection) -> HardwareScatter | None:
        """Return the scatter of the repeats with the errors of the model; None where it is not known."""

        def compared() -> HardwareScatter | None:
            case = self.project.evaluation(campaign, selection)
            return case_scatter(case, selection.pair.release, selection.pair.channel.name)

        # All repeats speak, whichever is shown.
        of_all = self.selected(campaign, replace(selection.address, repeat=""))
        found: HardwareScatter | None = self._once(self._key("scatter", campaign, of_all), compared)
        return found

    def explained(self, campaign: Campaign, selection: Selection) -> PairExplanation:
        """Say where a pair loses its rating and what may lie behind it; of several the most typical one."""
        typical = self.rated(campaign, selection).typical

        def explain() -> PairExplanation:
            case = self.project.evaluation(campaign, selection)
            return explain_campaign_pair(case, selection.pair.release, selection.pair.channel.name, typical)

        found: PairExplanation = self._once(self._key("explained", campaign, selection), explain)
        return found

    def _pairs(self, campaign: Campaign, selection: Selection) -> dict[str, CasePair]:
        pair = selection.pair

        def conditioned() -> dict[str, CasePair]:
            case = self.project.evaluation(campaign, selection)
            return channel_pairs(case, pair.release, pair.channel.name, selection.repeat)

        found: dict[str, CasePair] = self._once(self._key("pairs", campaign, selection), conditioned)
        return found

    def _key(self, what: str, campaign: Campaign, selection: Selection) -> Hashable:
        pair = selection.pair
        stamps = tuple(stamp_of(path) for path in selection.paths)
        names = pair.load_case.name, pair.channel.name, pair.release.name, selection.repeat
        return (what, campaign.sha256, names, selection.recipe, stamps)

    def _once(self, key: Hashable, work: Callable[[], Any]) -> Any:
        """Return a result that is kept, or work it out; two that ask at once may both work."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        result = work()
        with self._lock:
            self._kept[key] = result
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return result


def _of_release(campaign: Campaign, selection: Selection, name: str) -> Selection:
    release = campaign.release(name)
    path = campaign.model_path(release, selection.pair.load_case)
    pairs = tuple(replace(pair, release=release, model_path=path) for pair in selection.pairs)
    return replace(selection, pairs=pairs)

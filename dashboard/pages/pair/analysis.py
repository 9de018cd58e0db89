"""Results computed for the pair page, cached for the same files and settings."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

from correlate import (
    CorrelateError,
    Recipe,
    account_for_loss,
    apply_change,
    explain_campaign_pair,
    rate,
    repeat_set,
)
from dashboard.state import stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from correlate import (
        Campaign,
        CasePair,
        CurveChange,
        LossAccount,
        PairExplanation,
        PairScore,
        Rating,
        RepeatSet,
    )
    from dashboard.selection import Selection
    from dashboard.state import Project


_KEPT: Final = 64
"""Results that are kept; the oldest go first."""


@dataclass(slots=True)
class PairAnalysis:
    """The pairs of a project, as the analyst looks at them.

    Attributes
    ----------
    project
        Of the server.
    """

    project: Project
    _lock: Lock = field(default_factory=Lock, repr=False)
    _kept: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict, repr=False)

    def pair(self, campaign: Campaign, selection: Selection) -> CasePair:
        """Return a pair with its conditioned curves."""
        found: CasePair = self._once(
            self._key("pair", campaign, selection), lambda: self._evaluated(campaign, selection)
        )
        return found

    def score(self, campaign: Campaign, selection: Selection) -> PairScore:
        """Rate a pair."""
        pair = self.pair(campaign, selection)
        found: PairScore = self._once(self._key("score", campaign, selection), pair.score)
        return found

    def others(
        self, campaign: Campaign, selection: Selection, names: tuple[str, ...]
    ) -> dict[str, PairScore]:
        """Rate further releases against the same test."""
        return {
            name: self.score(campaign, _of_release(campaign, selection, name))
            for name in names
            if name != selection.pair.release.name
        }

    def account(self, campaign: Campaign, selection: Selection) -> LossAccount:
        """Share the loss of a pair out over time."""
        score = self.score(campaign, selection)
        found: LossAccount = self._once(
            self._key("account", campaign, selection), lambda: account_for_loss(score.rating)
        )
        return found

    def changed(self, campaign: Campaign, selection: Selection, change: CurveChange) -> Rating:
        """Rate a pair after a change of the model's curve."""
        pair = self.score(campaign, selection).rating.pair
        moved = apply_change(
            pair, shift_s=change.shift_s, scale=change.scale, offset=change.offset, stretch=change.stretch
        )
        return rate(moved, campaign.settings)

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

    def explained(self, campaign: Campaign, selection: Selection) -> PairExplanation:
        """Say where a pair loses its rating and what may lie behind it."""

        def explain() -> PairExplanation:
            case = self.project.evaluation(campaign, selection)
            pair = selection.pair
            return explain_campaign_pair(case, pair.release, pair.channel.name, pair.repeat)

        found: PairExplanation = self._once(self._key("explained", campaign, selection), explain)
        return found

    def _evaluated(self, campaign: Campaign, selection: Selection) -> CasePair:
        pair = selection.pair
        case = self.project.evaluation(campaign, selection)
        return case.pair(pair.release, pair.channel.name, pair.repeat)

    def _key(self, what: str, campaign: Campaign, selection: Selection) -> Hashable:
        pair = selection.pair
        stamps = tuple(stamp_of(path) for path in (*pair.test_paths, pair.model_path))
        names = pair.load_case.name, pair.channel.name, pair.release.name, pair.repeat
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
    shown = selection.pair
    release = campaign.release(name)
    path = campaign.model_path(release, shown.load_case)
    return replace(selection, pair=replace(shown, release=release, model_path=path))

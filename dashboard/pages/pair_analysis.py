"""What the server works out for the pair page, each thing once for the same files and settings."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

from correlate import (
    CampaignReader,
    CorrelateError,
    account_for_loss,
    apply_change,
    explain_pair,
    rate,
    repeat_set,
    score_pair,
)
from dashboard.selection import Selection, pairs_of
from dashboard.state import stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable
    from pathlib import Path

    from correlate import (
        Campaign,
        CampaignPair,
        CurveChange,
        LossAccount,
        PairExplanation,
        PairScore,
        Rating,
        RepeatSet,
        Signal,
    )
    from dashboard.state import Project, Stamp

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
    _reader: CampaignReader = field(default_factory=CampaignReader, repr=False)
    _stamps: dict[Path, Stamp] = field(default_factory=dict, repr=False)
    _kept: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict, repr=False)

    def signals(self, pair: CampaignPair) -> tuple[Signal, Signal]:
        """Return test and model of a pair as they were read.

        Parameters
        ----------
        pair
            Which.

        Returns
        -------
        reference, candidate : Signal

        Raises
        ------
        CorrelateError
            A file cannot be read, or has no such channel.
        """
        with self._lock:
            for path in (pair.test_path, pair.model_path):
                self._forget_if_changed(path)
            return self._reader.signals(pair)

    def score(self, campaign: Campaign, selection: Selection) -> PairScore:
        """Rate a pair.

        Parameters
        ----------
        campaign
            For the settings of the rating.
        selection
            Which pair, and how it is conditioned.

        Returns
        -------
        PairScore

        Raises
        ------
        CorrelateError
            A file cannot be read, or the pair cannot be conditioned or rated.
        """
        reference, candidate = self.signals(selection.pair)
        found: PairScore = self._once(
            self._key("score", campaign, selection),
            lambda: score_pair(reference, candidate, recipe=selection.recipe, settings=campaign.settings),
        )
        return found

    def others(
        self, campaign: Campaign, selection: Selection, names: tuple[str, ...]
    ) -> dict[str, PairScore]:
        """Rate further releases against the same test.

        Parameters
        ----------
        campaign, selection
            The pair that is shown.
        names
            Of releases.

        Returns
        -------
        dict
            By release; the one that is shown is left out.

        Raises
        ------
        CorrelateError
            As for :meth:`score`, or a name that the campaign does not have.
        """
        return {
            name: self.score(campaign, _of_release(campaign, selection, name))
            for name in names
            if name != selection.pair.release.name
        }

    def account(self, campaign: Campaign, selection: Selection) -> LossAccount:
        """Share the loss of a pair out over time.

        Parameters
        ----------
        campaign, selection
            As for :meth:`score`.

        Returns
        -------
        LossAccount

        Raises
        ------
        CorrelateError
            As for :meth:`score`.
        """
        score = self.score(campaign, selection)
        found: LossAccount = self._once(
            self._key("account", campaign, selection), lambda: account_for_loss(score.rating)
        )
        return found

    def changed(self, campaign: Campaign, selection: Selection, change: CurveChange) -> Rating:
        """Rate a pair after a change of the model's curve.

        Parameters
        ----------
        campaign, selection
            As for :meth:`score`.
        change
            For a question, never for a result.

        Returns
        -------
        Rating

        Raises
        ------
        CorrelateError
            As for :meth:`score`, or a change that is none.
        """
        pair = self.score(campaign, selection).rating.pair
        moved = apply_change(
            pair, shift_s=change.shift_s, scale=change.scale, offset=change.offset, stretch=change.stretch
        )
        return rate(moved, campaign.settings)

    def spread(self, campaign: Campaign, selection: Selection) -> RepeatSet | None:
        """Return all repeats of the test, conditioned alike and where each was recorded.

        Parameters
        ----------
        campaign, selection
            The pair that is shown.

        Returns
        -------
        RepeatSet or None
            None where there is one repeat alone, or where the repeats cannot be compared: the repeats page
            says why.
        """
        pair = selection.pair
        siblings = [
            one
            for one in pairs_of(campaign, pair.release, pair.load_case)
            if one.channel.test == pair.channel.test
        ]
        if len(siblings) == 1:
            return None
        stamps = tuple(stamp_of(one.test_path) for one in siblings)
        key = ("spread", pair.channel.test, selection.recipe, stamps)
        try:
            tests = [self._test(one) for one in siblings]
            found: RepeatSet = self._once(
                key, lambda: repeat_set(tests, selection.recipe, largest_shift_s=0.0)
            )
        except CorrelateError:
            return None
        return found

    def explained(self, campaign: Campaign, selection: Selection) -> PairExplanation:
        """Say where a pair loses its rating and what may lie behind it.

        Parameters
        ----------
        campaign, selection
            As for :meth:`score`.

        Returns
        -------
        PairExplanation

        Raises
        ------
        CorrelateError
            As for :meth:`score`.
        """
        reference, candidate = self.signals(selection.pair)
        axes = self._other_axes(selection.pair)
        found: PairExplanation = self._once(
            self._key("explained", campaign, selection),
            lambda: explain_pair(
                reference, candidate, recipe=selection.recipe, settings=campaign.settings, other_axes=axes
            ),
        )
        return found

    def _test(self, pair: CampaignPair) -> Signal:
        with self._lock:
            self._forget_if_changed(pair.test_path)
            return self._reader.recording(pair.test_path).channel(pair.channel.test)

    def _other_axes(self, pair: CampaignPair) -> dict[str, Signal]:
        """Return the model's curves for the other axes of a sensor; one that is missing is left out."""
        found = {}
        for channel in pair.load_case.channel:
            if channel.sensor and channel.sensor == pair.channel.sensor and channel is not pair.channel:
                try:
                    signal = self.signals(replace(pair, channel=channel))[1]
                except CorrelateError:
                    continue
                found[signal.channel] = signal
        return found

    def _key(self, what: str, campaign: Campaign, selection: Selection) -> Hashable:
        pair = selection.pair
        stamps = stamp_of(pair.test_path), stamp_of(pair.model_path)
        names = pair.load_case.name, pair.channel.test, pair.release.name, pair.repeat
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

    def _forget_if_changed(self, path: Path) -> None:
        """Start with nothing read where a file is not what it was; that is rare, so all is read again."""
        stamp = stamp_of(path)
        if self._stamps.setdefault(path, stamp) != stamp:
            self._reader = CampaignReader()
            self._stamps = {path: stamp}


def _of_release(campaign: Campaign, selection: Selection, name: str) -> Selection:
    shown = selection.pair
    pairs = pairs_of(campaign, campaign.release(name), shown.load_case)
    same = next(one for one in pairs if (one.channel.test, one.repeat) == (shown.channel.test, shown.repeat))
    return Selection(pair=same, recipe=selection.recipe)

"""The only code that rates a pair of a campaign: read, condition, pair, rate.

Scoring, explanations, reports, tuning and the dashboard all evaluate a pair here, so that every one of them
has the same curves and the same bits.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from threading import Lock
from typing import TYPE_CHECKING, Any

from correlate.conditioning import cut_pair
from correlate.display import short_repr
from correlate.errors import CorrelateError, SettingsError, UnfinishedError
from correlate.evaluation.channels import model_channel, model_channel_name
from correlate.evaluation.curves import (
    Curve,
    Missing,
    candidate_curve,
    curve_of,
    mean_curve,
    reference_curve,
    resultant_curve,
)
from correlate.evaluation.definition import read_file
from correlate.evaluation.evidence import contents_of
from correlate.evaluation.kept_curves import (
    KeptCurves,
    KeptTest,
    TestKey,
    conditioning_text,
    key_of_test,
)
from correlate.evaluation.pairs import PairScore, score_conditioned
from correlate.evaluation.record import PairNames, hash_of_settings, rating_key, settings_words
from correlate.evaluation.tables import ChannelPlan
from correlate.files import files_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from correlate.conditioning import Recipe
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.pairs import CampaignPair
    from correlate.evaluation.tables import LoadCase, Release, ResultantPlan
    from correlate.flag import Flag
    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout, RunLayout
    from correlate.formats.recording import SetAside
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.pair import AlignedPair
    from correlate.signal import Signal


@short_repr
@dataclass(slots=True)
class CampaignReader:
    """Reads each recording once and remembers it, because many pairs share one; several threads may use it.

    Attributes
    ----------
    read
        Reads a file by its layout.
    recordings
        What has been read, by path.
    """

    read: Callable[[Path, ColumnLayout | RunLayout | None], Recording] = read_file
    recordings: dict[Path, Recording] = field(default_factory=dict)
    _layouts: dict[Path, ColumnLayout | RunLayout | None] = field(
        default_factory=dict, init=False, repr=False
    )
    _lock: Lock = field(default_factory=Lock, init=False, repr=False)

    def recording(self, path: Path, layout: ColumnLayout | RunLayout | None = None) -> Recording:
        """Return a recording, read when first asked for, and again by another layout."""
        with self._lock:
            if path not in self.recordings or self._layouts.get(path) != layout:
                self.recordings[path] = self.read(path, layout)
                self._layouts[path] = layout
            return self.recordings[path]

    def score(
        self, campaign: Campaign, pair: CampaignPair, change: Callable[[Recipe], Recipe] | None = None
    ) -> PairScore:
        """Evaluate one pair.

        Parameters
        ----------
        campaign, pair
            What is rated.
        change
            Applied to the planned recipe, to look at the pair with another filter or interval.

        Returns
        -------
        PairScore

        Raises
        ------
        CorrelateError
            A file cannot be read, or the pair cannot be conditioned or rated.
        """
        case = CaseEvaluation(campaign, pair.load_case, reader=self, change=change)
        return case.pair(pair.release, pair.channel.name, pair.repeat).score()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairSettings:
    """How the pairs of one channel are conditioned and rated.

    Attributes
    ----------
    rating
        Settings of the rating.
    words
        Conditioning, rating and further measures as plain values.
    sha256
        Of `words`; part of the key of a rating.
    """

    rating: RatingSettings
    words: dict[str, Any]
    sha256: str


@lru_cache(maxsize=4096)
def _pair_settings(
    rating: RatingSettings, measures: tuple[str, ...], recipes: tuple[Recipe, ...]
) -> PairSettings:
    """Return the settings of a channel, the same for all channels that are conditioned alike."""
    words = settings_words(recipes[0], rating, measures, axes=recipes[1:])
    return PairSettings(rating=rating, words=words, sha256=hash_of_settings(words))


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CasePair:
    """One pair with its conditioned curves, not yet rated.

    Attributes
    ----------
    names
        Campaign, release, load case, channel and repeat.
    recipe
        How both curves were conditioned; of a resultant, how its first axis was.
    reference, candidate
        Conditioned curves, or why there is none.
    how
        Conditioning and rating settings.
    """

    names: PairNames
    recipe: Recipe
    reference: Curve | Missing
    candidate: Curve | Missing
    how: PairSettings

    @property
    def missing(self) -> Missing | None:
        """The first curve that could not be had; None when both are there."""
        return next((one for one in (self.reference, self.candidate) if isinstance(one, Missing)), None)

    @property
    def curves(self) -> tuple[Curve, Curve]:
        """Both curves.

        Raises
        ------
        CorrelateError
            Why one could not be had.
        """
        return curve_of(self.reference), curve_of(self.candidate)

    @property
    def key(self) -> str:
        """Hash of everything the rating depends on."""
        reference, candidate = self.curves
        return rating_key(reference=reference.origins, candidate=candidate.origins, how=self.how.sha256)

    @property
    def inputs(self) -> dict[str, Any]:
        """Source and history of both curves as plain values."""
        reference, candidate = self.curves
        return {"reference": reference.words, "candidate": candidate.words}

    @property
    def conditioning_flags(self) -> tuple[Flag, ...]:
        """Warnings of how both curves were conditioned."""
        reference, candidate = self.curves
        return reference.flags + candidate.flags

    def aligned(self) -> AlignedPair:
        """Return both curves on one grid, cut to the interval.

        Raises
        ------
        CorrelateError
            A curve is missing, or the two cannot be paired.
        """
        reference, candidate = self.curves
        return cut_pair(reference, candidate, self.recipe)

    def score(self) -> PairScore:
        """Rate the pair.

        Raises
        ------
        CorrelateError
            A curve is missing, or the two cannot be paired or rated.
        """
        reference, candidate = self.curves
        return score_conditioned(
            reference.signal, candidate.signal, recipe=self.recipe, settings=self.how.rating
        )


class CaseEvaluation:
    """Evaluates the pairs of one load case; its tests are read and conditioned once for all releases.

    Parameters
    ----------
    campaign, load_case
        What is compared, and how.
    reader
        Remembers recordings for other load cases and views; without one, each file is read once here.
    change
        Applied to every planned recipe, to look at a pair with another filter or interval.

    Raises
    ------
    FormatError
        The load case names tests that are not there.
    """

    def __init__(
        self,
        campaign: Campaign,
        load_case: LoadCase,
        *,
        reader: CampaignReader | None = None,
        change: Callable[[Recipe], Recipe] | None = None,
    ) -> None:
        self.campaign = campaign
        self.load_case = load_case
        self._reader = reader
        self.paths = campaign.tests(load_case)
        self._change = change
        self._plans = {plan.name: plan for plan in load_case.plans}
        self._recipes: dict[str, Recipe] = {}
        self._how: dict[str, PairSettings] = {}
        self._tests: dict[str, Recording | Missing] = {}
        self._refused: set[str] = set()
        self._test_channels: set[str] = set()
        self._test_set_aside: dict[str, list[SetAside]] = {}
        self._models: dict[tuple[str, str, str | None], Recording | Missing] = {}
        self._size = 0
        self._references: dict[tuple[str, str], Curve | Missing] = {}
        self._kept = KeptCurves(campaign.folder)
        self._keys: dict[str, TestKey] = {}
        self._candidates: dict[tuple[str, str, str], Curve | Missing] = {}

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of everything that is rated: channels, then resultants, in the order of the file."""
        return self.load_case.rated_names

    def recipe(self, channel: str) -> Recipe:
        """Return how a channel, or the first axis of a resultant, is conditioned."""
        plan = self._rated(channel)
        return self._recipe(plan if isinstance(plan, ChannelPlan) else self.load_case.plan(plan.axes[0]))

    def test(self, repeat: str) -> Recording | Missing:
        """Return the recording of a repeat, or why it cannot be read."""
        if repeat not in self._tests:
            self._note_key(repeat)
            found = self._read(self.paths[repeat], self.campaign.test_layout(self.load_case))
            self._tests[repeat] = found
            if isinstance(found, Missing):
                self._refused.add(repeat)
            else:
                self._test_channels |= set(found.channel_names)
                self._test_set_aside[repeat] = list(found.set_aside)
        return self._tests[repeat]

    def condition_tests(self) -> None:
        """Condition every channel of every repeat, unless this was done, and release the recordings.

        Newly conditioned curves are kept for the next run.
        """
        kept = False
        for repeat in self.paths:
            if all((plan.test, repeat) in self._references for plan in self.load_case.channel):
                continue
            self._take_kept(repeat)
            for plan in self.load_case.channel:
                self._reference(plan, repeat)
            if repeat in self._tests:
                kept |= self._keep(repeat)
                del self._tests[repeat]
        if kept:
            self._kept.remove_oldest()

    def model(self, release: Release) -> Recording | Missing:
        """Return the model's output of a release, or why it cannot be read."""
        key = release.name, release.folder, release.layout
        if key not in self._models:
            path = self.campaign.model_path(release, self.load_case)
            # One model at a time: other releases follow, and memory must not grow with them.
            self.forget_model()
            self._size = _size_of(path)
            self._models[key] = self._read(path, self.campaign.model_layout(release, self.load_case))
        return self._models[key]

    def growth(self, release: Release) -> UnfinishedError | None:
        """Return the error for a model's output that has grown since it was read; None when it has not."""
        path = self.campaign.model_path(release, self.load_case)
        # Whoever brings a reader may have read long ago, and looks after growth.
        if self._reader is not None or not self._models or _size_of(path) <= self._size:
            return None
        return UnfinishedError(
            "the file grew while it was being rated",
            where=str(path),
            remedy="wait until the run ends, or rate the data so far with 'correlate score --unfinished'",
        )

    def is_read(self, release: Release) -> bool:
        """Whether all existing files could be read; if not, the reason may be outside of the files."""
        model = self.model(release)
        path = self.campaign.model_path(release, self.load_case)
        return not self._refused and (not isinstance(model, Missing) or not path.exists())

    def forget_model(self) -> None:
        """Let go of the model that was read last, so that it is read again when its file has changed."""
        self._models.clear()
        self._candidates.clear()

    def reference(self, channel: str, repeat: str) -> Curve | Missing:
        """Return the conditioned curve of one repeat of a channel or resultant."""
        plan = self._rated(channel)
        if isinstance(plan, ChannelPlan):
            return self._reference(plan, repeat)
        return resultant_curve(plan, [self._reference(axis, repeat) for axis in self._axes(plan)])

    def repeats(self, channel: str) -> dict[str, Curve | Missing]:
        """Return the conditioned curve of every repeat of a channel or resultant, by the repeat's name."""
        return {repeat: self.reference(channel, repeat) for repeat in self.paths}

    def tests(self, channel: str) -> dict[str, Signal]:
        """Return the conditioned repeats that could be had, by name."""
        return {name: one.signal for name, one in self.repeats(channel).items() if isinstance(one, Curve)}

    def references(self, channel: str) -> dict[str, Curve | Missing]:
        """Return what the model is rated against: every repeat, or their mean."""
        repeats = self.repeats(channel)
        return mean_curve(repeats) if self.campaign.scoring.repeats == "mean curve" else repeats

    def candidate(self, channel: str, release: Release, reference: Curve | Missing) -> Curve | Missing:
        """Return the model's conditioned curve in the unit of what it is compared with."""
        plan = self._rated(channel)
        unit = reference.unit if isinstance(reference, Curve) else "1"
        if isinstance(plan, ChannelPlan):
            return self._candidate(plan, release, unit)
        return resultant_curve(plan, [self._candidate(axis, release, unit) for axis in self._axes(plan)])

    def pairs(self, release: Release) -> Iterator[CasePair]:
        """Yield every pair of a release: channels and resultants, then repeats, in the order of the file."""
        for channel in self.channels:
            for repeat, reference in self.references(channel).items():
                yield self._pair(release, channel, repeat, reference)

    def pair(self, release: Release, channel: str, repeat: str = "") -> CasePair:
        """Return one pair.

        Parameters
        ----------
        release
            Of the model.
        channel
            Channel code, name, or title of a resultant.
        repeat
            Name of the test, or of the mean; the first when left out.

        Raises
        ------
        SettingsError
            The load case has no such channel or repeat.
        """
        self._rated(channel)
        if self.campaign.scoring.repeats == "each":
            # Only this repeat is read.
            name = repeat or next(iter(self.paths))
            self._check_repeat(name, list(self.paths))
            return self._pair(release, channel, name, self.reference(channel, name))
        references = self.references(channel)
        name = repeat or next(iter(references))
        self._check_repeat(name, list(references))
        return self._pair(release, channel, name, references[name])

    def recorded(self, release: Release, plan: ChannelPlan, repeat: str) -> tuple[Signal, Signal]:
        """Return test and model of a channel as they were read.

        Parameters
        ----------
        release, plan, repeat
            Which.

        Raises
        ------
        CorrelateError
            A file cannot be read, or has no such channel.
        """
        test, model = recording_of(self.test(repeat)), recording_of(self.model(release))
        return test.channel(plan.test), model_channel(plan, model)

    def spare_channels(self, release: Release) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Return the channels of the tests read so far, and those of the model, that are in no pair."""
        plans = self.load_case.channel
        spare = tuple(sorted(self._test_channels - {plan.test for plan in plans}))
        model = self.model(release)
        if isinstance(model, Missing):
            return spare, ()
        used = {_name_or_none(plan, model) for plan in plans}
        return spare, tuple(name for name in model.channel_names if name not in used)

    def spare_set_aside(self, release: Release) -> tuple[tuple[SetAside, ...], tuple[SetAside, ...]]:
        """Return the set-aside channels of the tests read so far, and those of the model, in no pair."""
        planned = {plan.test for plan in self.load_case.channel}
        tests = [one for found in self._test_set_aside.values() for one in found if one.name not in planned]
        model = self.model(release)
        if isinstance(model, Missing):
            return tuple(tests), ()
        used = {_name_or_none(plan, model) for plan in self.load_case.channel}
        return tuple(tests), tuple(one for one in model.set_aside if one.name not in used)

    def _pair(self, release: Release, channel: str, repeat: str, reference: Curve | Missing) -> CasePair:
        recipe = self.recipe(channel)
        return CasePair(
            names=PairNames(
                campaign=self.campaign.title,
                release=release.name,
                load_case=self.load_case.name,
                channel=channel,
                repeat=repeat,
            ),
            recipe=recipe,
            reference=reference,
            candidate=self.candidate(channel, release, reference),
            how=self._settings(channel),
        )

    def _settings(self, channel: str) -> PairSettings:
        if channel not in self._how:
            plan = self._rated(channel)
            plans = (plan,) if isinstance(plan, ChannelPlan) else self._axes(plan)
            recipes = tuple(self._recipe(one) for one in plans)
            self._how[channel] = _pair_settings(
                self.campaign.settings, self.campaign.scoring.measures, recipes
            )
        return self._how[channel]

    def _rated(self, name: str) -> ChannelPlan | ResultantPlan:
        """Return a channel or resultant; a name that the load case does not have is refused there."""
        return self._plans.get(name) or self.load_case.rated(name)

    def _recipe(self, plan: ChannelPlan) -> Recipe:
        if plan.test not in self._recipes:
            recipe = self.load_case.recipe(plan)
            self._recipes[plan.test] = recipe if self._change is None else self._change(recipe)
        return self._recipes[plan.test]

    def _axes(self, plan: ResultantPlan) -> tuple[ChannelPlan, ...]:
        return tuple(self.load_case.plan(axis) for axis in plan.axes)

    def _reference(self, plan: ChannelPlan, repeat: str) -> Curve | Missing:
        key = (plan.test, repeat)
        if key not in self._references:
            self._take_kept(repeat)
        if key not in self._references:
            self._references[key] = reference_curve(plan, self.test(repeat), self._recipe(plan))
        return self._references[key]

    @cached_property
    def _how_conditioned(self) -> str:
        """Text of how the channels of every test are conditioned."""
        plans = [(plan.test, self._recipe(plan).for_reference("")) for plan in self.load_case.channel]
        return conditioning_text(plans)

    @property
    def _as_planned(self) -> bool:
        """Whether tests are read and conditioned as in the campaign, without a change of settings."""
        return self._change is None and (self._reader is None or self._reader.read is read_file)

    def _note_key(self, repeat: str) -> bool:
        """Record the key of the curves of a repeat before it is read; return whether the key is new."""
        at_hand = repeat in self._tests or (
            self._reader is not None and self.paths[repeat] in self._reader.recordings
        )
        if at_hand or not self._as_planned or repeat in self._keys:
            return False
        path, layout = self.paths[repeat], self.campaign.test_layout(self.load_case)
        self._keys[repeat] = key_of_test(
            path, contents_of(self.campaign, path), layout, self._how_conditioned
        )
        return True

    def _take_kept(self, repeat: str) -> None:
        """Use the curves of a repeat that an earlier run kept, unless its recording is in memory."""
        found = self._kept.find(self._keys[repeat]) if self._note_key(repeat) else None
        if found is not None:
            self._test_channels |= set(found.channels)
            self._test_set_aside[repeat] = list(found.set_aside)
            self._references |= {(name, repeat): curve for name, curve in found.curves.items()}

    def _keep(self, repeat: str) -> bool:
        """Keep the curves of a repeat that was read; return whether it could be read."""
        recording = self._tests[repeat]
        if isinstance(recording, Missing) or repeat not in self._keys:
            return False
        curves = {plan.test: self._reference(plan, repeat) for plan in self.load_case.channel}
        test = KeptTest(recording.channel_names, recording.set_aside, curves)
        self._kept.keep(self._keys[repeat], test)
        return True

    def _candidate(self, plan: ChannelPlan, release: Release, unit: str) -> Curve | Missing:
        model = self.model(release)
        key = (plan.test, release.name, unit)
        if key not in self._candidates:
            self._candidates[key] = candidate_curve(plan, model, self._recipe(plan), unit)
        return self._candidates[key]

    def _read(self, path: Path, layout: ColumnLayout | RunLayout | None) -> Recording | Missing:
        try:
            return read_file(path, layout) if self._reader is None else self._reader.recording(path, layout)
        except CorrelateError as error:
            return Missing(error)

    def _check_repeat(self, name: str, known: Sequence[str]) -> None:
        if name not in known:
            raise SettingsError(
                f"there is no repeat '{name}'",
                where=f"load case '{self.load_case.name}'",
                remedy=f"it has {', '.join(known)}",
            )


def recording_of(found: Recording | Missing) -> Recording:
    """Return a recording, or raise why there is none."""
    if isinstance(found, Missing):
        raise found.error
    return found


def typical_repeat(ratings: Mapping[str, float]) -> str:
    """Return the repeat whose rating is nearest to the mean of all; empty when none is rated.

    Examples
    --------
    >>> typical_repeat({"T1": 0.9, "T2": 0.8, "T3": 0.6})
    'T2'
    """
    if not ratings:
        return ""
    mean = sum(ratings.values()) / len(ratings)
    return min(ratings, key=lambda name: abs(ratings[name] - mean))


def _size_of(path: Path) -> int:
    """Return the size of a file, or of all files of a folder; 0 where there is none."""
    try:
        return sum(file.stat().st_size for file in files_of(path))
    except OSError:
        return 0


def _name_or_none(plan: ChannelPlan, model: Recording) -> str | None:
    try:
        return model_channel_name(plan, model)
    except CorrelateError:
        return None  # reported with the pair

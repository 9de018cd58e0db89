"""Scoring one block: all channels and repeats of one load case against one release.

A block is what a worker does at a time. The curves of the tests are kept as long as blocks of the same load
case follow each other, because every release is rated against the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from correlate.campaign.curves import Curve, Missing, TestCurves, mean_curve, read_model
from correlate.campaign.matching import model_channel_name
from correlate.campaign.quantities import Quantity, quantities
from correlate.campaign.record import (
    PairNames,
    PairRecord,
    hash_of_settings,
    rating_key,
    record_of,
    settings_words,
)
from correlate.conditioning import cut_pair
from correlate.errors import CorrelateError
from correlate.metrics import evaluate_measures
from correlate.metrics.iso18571 import check_pair, rate_many

if TYPE_CHECKING:
    from collections.abc import Collection

    from correlate.campaign.definition import Campaign
    from correlate.campaign.tables import LoadCase, Release
    from correlate.formats import Recording
    from correlate.metrics import Evaluation
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True)
class Unrated:
    """A pair that was asked for and could not be rated.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names of the pair.
    reason
        One sentence.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    reason: str


@dataclass(frozen=True, slots=True)
class Unpaired:
    """Channels that are in the data and in no pair.

    Attributes
    ----------
    side
        ``test`` or ``model``.
    release
        Empty for tests.
    load_case
        Where they are.
    channels
        Their names.
    """

    side: str
    release: str
    load_case: str
    channels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """A pair whose rating is known already.

    Attributes
    ----------
    key
        Of the rating.
    names, inputs
        Of this pair; the known rating may have been kept under others.
    """

    key: str
    names: PairNames
    inputs: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Block:
    """What came of one block.

    Attributes
    ----------
    pairs
        Newly rated and known pairs, in the order of the file.
    unrated, unpaired
        What could not be rated, and what was in no pair.
    """

    pairs: list[PairRecord | Known]
    unrated: list[Unrated]
    unpaired: list[Unpaired]


@dataclass(frozen=True, slots=True)
class _Ready:
    """A pair that waits to be rated with others."""

    place: int
    pair: AlignedPair
    names: PairNames
    key: str
    inputs: dict[str, Any]
    words: dict[str, Any]
    also: tuple[Evaluation, ...]


class BlockScorer:
    """Scores blocks of one campaign, one after the other.

    Parameters
    ----------
    campaign
        The campaign.
    """

    def __init__(self, campaign: Campaign) -> None:
        self._campaign = campaign
        self._load_case = ""
        self._tests: TestCurves | None = None

    def score(self, load_case: LoadCase, release: Release, known: Collection[str]) -> Block:
        """Rate every pair of a block that is not known.

        Parameters
        ----------
        load_case, release
            The block.
        known
            Keys of pairs that need not be rated again.

        Returns
        -------
        Block
        """
        tests = self._tests_of(load_case)
        recording = read_model(self._campaign, release, load_case)
        block = Block([], [], self._unpaired(load_case, release, tests, recording))
        ready: list[_Ready] = []
        for quantity in quantities(load_case, tests, recording):
            words = settings_words(quantity.recipe, self._campaign.settings, self._campaign.scoring.measures)
            how = hash_of_settings(words)
            for repeat, test in self._references(quantity.repeats).items():
                names = PairNames(
                    campaign=self._campaign.title,
                    release=release.name,
                    load_case=load_case.name,
                    channel=quantity.channel,
                    repeat=repeat,
                )
                self._plan(
                    block, ready, names, quantity=quantity, test=test, words=words, how=how, known=known
                )
        self._rate(block, ready)
        return block

    def _tests_of(self, load_case: LoadCase) -> TestCurves:
        if self._tests is None or self._load_case != load_case.name:
            self._tests = TestCurves(load_case, self._campaign.test_paths(load_case))
            self._load_case = load_case.name
        return self._tests

    def _references(self, repeats: dict[str, Curve | Missing]) -> dict[str, Curve | Missing]:
        return mean_curve(repeats) if self._campaign.scoring.repeats == "mean curve" else repeats

    def _plan(
        self,
        block: Block,
        ready: list[_Ready],
        names: PairNames,
        *,
        quantity: Quantity,
        test: Curve | Missing,
        words: dict[str, Any],
        how: str,
        known: Collection[str],
    ) -> None:
        """Put one pair into the block, to be rated, unless a curve is missing or the rating is known."""
        for curve in (test, quantity.model):
            if isinstance(curve, Missing):
                block.unrated.append(_unrated(names, curve.reason))
                return
        assert isinstance(test, Curve)  # noqa: S101 - tells the type checker what the loop made sure of
        assert isinstance(quantity.model, Curve)  # noqa: S101
        key = rating_key(reference=test.origins, candidate=quantity.model.origins, how=how)
        inputs = {"reference": test.words, "candidate": quantity.model.words}
        if key in known:
            block.pairs.append(Known(key, names, inputs))
            return
        try:
            pair = cut_pair(test.signal, quantity.model.signal, quantity.recipe)
            check_pair(pair)
            also = evaluate_measures(self._campaign.scoring.measures, pair)
        except CorrelateError as error:
            block.unrated.append(_unrated(names, str(error)))
            return
        ready.append(_Ready(len(block.pairs), pair, names, key, inputs, words, also))
        # Holds the place until the rating is there.
        block.pairs.append(Known(key, names, inputs))

    def _rate(self, block: Block, ready: list[_Ready]) -> None:
        """Rate together what is ready, and put each rating where its pair stands."""
        ratings = rate_many([one.pair for one in ready], self._campaign.settings, threads=1)
        for one, rating in zip(ready, ratings, strict=True):
            block.pairs[one.place] = record_of(
                one.names, rating, key=one.key, inputs=one.inputs, settings=one.words, also=one.also
            )

    def _unpaired(
        self, load_case: LoadCase, release: Release, tests: TestCurves, recording: Recording | Missing
    ) -> list[Unpaired]:
        spare = sorted(tests.channel_names - {plan.test for plan in load_case.channel})
        found = [Unpaired("test", "", load_case.name, tuple(spare))] if spare else []
        if isinstance(recording, Missing):
            return found
        used = set()
        for plan in load_case.channel:
            try:
                used.add(model_channel_name(plan, recording))
            except CorrelateError:
                continue  # reported with the pair
        left = tuple(name for name in recording.channel_names if name not in used)
        return [*found, Unpaired("model", release.name, load_case.name, left)] if left else found


def _unrated(names: PairNames, reason: str) -> Unrated:
    return Unrated(names.release, names.load_case, names.channel, names.repeat, reason)

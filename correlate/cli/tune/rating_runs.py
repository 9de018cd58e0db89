"""Rates the results of a design point as if they were a release of the campaign."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Final

from correlate.campaign import Campaign, PairRecord, Release, ReleaseScore, Score, aggregate, load_campaign
from correlate.campaign.aggregation import combine
from correlate.campaign.block import score_block
from correlate.cli.tune.run_curves import curve_features
from correlate.cli.tune.run_windows import window_outcomes
from correlate.errors import SettingsError, SignalError
from correlate.evaluation import CaseEvaluation
from correlate.tuning.definition import WORST_CHANNEL
from correlate.tuning.record import UnstableError
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, outcome_name
from correlate.tuning.unstable import line_without_number
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from correlate.campaign import LoadCase
    from correlate.tuning.definition import Tuning

EDITION: Final = 2
"""Raised when runs get other outcomes than before, so that those of an earlier edition are rated again."""
COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")


class RunRater:
    """Rates runs, one after the other; the tests are read once.

    Parameters
    ----------
    tuning
        The project.

    Raises
    ------
    FormatError
        The campaign cannot be read, or a load case has no tests.
    SettingsError
        The goal names a load case that the campaign does not have, or trains on one that it holds out.
    """

    def __init__(self, tuning: Tuning) -> None:
        self._tuning = tuning
        self._campaign = load_campaign(tuning.campaign_file)
        self._cases = checked_cases(tuning, self._campaign)
        self._evaluations = {case.name: CaseEvaluation(self._campaign, case) for case in self._cases}

    @property
    def key(self) -> str:
        """Hash of everything the outcomes depend on beside the results."""
        campaign, tuning = self._campaign, self._tuning
        # Not the whole campaign file: a release that is added changes no rating of a run.
        cases = [case.model_dump() for case in campaign.load_cases]
        layouts = {name: layout.sha256 for name, layout in campaign.layouts.items()}
        rated = (cases, campaign.scoring.model_dump(), campaign.regions, campaign.settings.as_dict(), layouts)
        tests = [str(path) for case in self._cases for path in campaign.test_paths(case)]
        windows = [window.model_dump() for window in tuning.windows]
        # Whole tables, not their text for people, which is cut short.
        parts = (EDITION, rated, tests, tuning.goal, tuning.rated.model_dump(), windows, VERSION)
        return hashlib.sha256(repr(parts).encode()).hexdigest()

    def __call__(self, identity: str, output: Path) -> dict[str, float]:
        """Rate the results of one run.

        Parameters
        ----------
        identity
            Of the design point.
        output
            Folder of the results, laid out as that of a release.

        Returns
        -------
        dict
            Outcomes by name.

        Raises
        ------
        UnstableError
            A result is not finite, or absurdly large.
        SignalError
            A rated channel of a load case is not there.
        """
        release = Release(name=identity, folder=str(output), layout=self._tuning.rated.layout)
        found: dict[str, float] = {}
        records: list[PairRecord] = []
        for case in self._cases:
            self._refuse_unstable(release, case)
            evaluation = self._evaluations[case.name]
            found |= curve_features(evaluation, release, self._tuning.rated.absurd_ratio)
            block = score_block(evaluation, release, ())
            records += [one for one in block.pairs if isinstance(one, PairRecord)]
            if not any(one.load_case == case.name for one in records):
                reason = block.unrated[0].reason if block.unrated else "it has no pair"
                raise SignalError(f"load case '{case.name}' cannot be rated: {reason}")
        found |= component_means(records)
        found |= self._ratings(aggregate(self._campaign, records, identity))
        return found | window_outcomes(self._tuning, release, self._campaign)

    def _refuse_unstable(self, release: Release, case: LoadCase) -> None:
        path = self._campaign.model_path(release, case)
        line = line_without_number(path)
        if line is not None:
            raise UnstableError("a result is not finite", where=f"{path.name}, line {line}")

    def _ratings(self, score: ReleaseScore) -> dict[str, float]:
        """Return the ratings of the release, its halves, its load cases and channels."""
        parts = [*score.training.parts, *(score.held_out.parts if score.held_out else ())]
        by_name = {part.name: part for part in parts}
        weights = {case.name: case.weight for case in self._cases}
        goal = self._tuning.goal
        halves = ((TRAIN, goal.train), (HELD_OUT, goal.held_out), (OVERALL, tuple(weights)))
        found = {
            name: combine("release", name, name, [(by_name[case], weights[case]) for case in cases]).overall
            for name, cases in halves
            if cases
        }
        for case in weights:
            found[outcome_name("load case", case)] = by_name[case].overall
            found[outcome_name("spread", case)] = by_name[case].spread
            for repeat, value in by_name[case].by_repeat.items():
                found[outcome_name("repeat", case, repeat)] = value
            for channel in channels_of(by_name[case]):
                found[outcome_name("channel", case, channel.name)] = channel.overall
        prefixes = tuple(outcome_name("channel", case, "") for case in goal.train)
        training = [value for name, value in found.items() if name.startswith(prefixes) and value is not None]
        found[WORST_CHANNEL] = min(training)
        return {name: value for name, value in found.items() if value is not None}


def checked_cases(tuning: Tuning, campaign: Campaign) -> list[LoadCase]:
    """Return the load cases of the goal, training ones first.

    Parameters
    ----------
    tuning
        The project.
    campaign
        That rates it.

    Returns
    -------
    list of LoadCase

    Raises
    ------
    SettingsError
        The campaign does not have one, or holds out one that is to train.
    """
    for name in tuning.goal.train:
        if campaign.load_case(name).held_out:
            raise SettingsError(
                f"load case '{name}' is to train, but the campaign holds it out",
                where=str(tuning.path),
                remedy="move it to 'held_out'",
            )
    for window in tuning.windows:
        campaign.load_case(window.load_case)
    return [campaign.load_case(name) for name in (*tuning.goal.train, *tuning.goal.held_out)]


def channels_of(score: Score) -> Iterator[Score]:
    """Yield every channel under a number of the tree."""
    if score.kind == "channel":
        yield score
    for part in score.parts:
        yield from channels_of(part)


def component_means(records: Sequence[PairRecord]) -> dict[str, float]:
    """Average the components of the rating over the repeats of each channel."""
    found: dict[str, list[float]] = {}
    for record in records:
        for component in COMPONENTS:
            name = outcome_name("component", record.load_case, record.channel, component)
            found.setdefault(name, []).append(getattr(record, component))
    return {name: sum(values) / len(values) for name, values in found.items()}

"""Rates the results of a design point as if they were a release, with features of curves and windows."""

from __future__ import annotations

import hashlib
import re
from contextlib import suppress
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.aggregation import ReleaseScore, Score, aggregate, combine
from correlate.campaign.block import score_block
from correlate.conditioning import cut_pair
from correlate.diagnosis.features.pulse import half_duration, pulse_of
from correlate.errors import FormatError, SettingsError, SignalError
from correlate.evaluation.case import CaseEvaluation
from correlate.evaluation.channels import coded_model
from correlate.evaluation.curves import Curve, Missing
from correlate.evaluation.definition import Campaign, load_campaign
from correlate.evaluation.record import PairRecord
from correlate.evaluation.tables import Release
from correlate.files import opened
from correlate.tuning.definition import WORST_CHANNEL
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, UnstableError, outcome_name
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from correlate.evaluation.tables import LoadCase
    from correlate.pair import AlignedPair
    from correlate.tuning.definition import Tuning

_NO_NUMBER: Final = re.compile(
    rb"(?<![\w.])[-+]?(?:nan|inf|infinity|1\.#\w+|\*{3,})(?![\w*])", flags=re.IGNORECASE
)
"""How programs write what is no number: NaN, infinity, and a number too wide for its column as stars."""

EDITION: Final = 2
"""Raised when runs get other outcomes than before, so that those of an earlier edition are rated again."""
COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")
NO_TEST: Final = Missing(SignalError("no test can be read"))
"""Stands for the reference where only the model's curve is wanted."""


class RunRater:
    """Rates runs, one after the other; the tests are read once."""

    def __init__(self, tuning: Tuning) -> None:
        self.tuning = tuning
        self.campaign = load_campaign(tuning.campaign_file)
        self.cases = checked_cases(tuning, self.campaign)
        self.evaluations = {case.name: CaseEvaluation(self.campaign, case) for case in self.cases}

    @property
    def key(self) -> str:
        """Hash of everything the outcomes depend on beside the results."""
        campaign, tuning = self.campaign, self.tuning
        # Not the whole campaign file: a release that is added changes no rating of a run.
        cases = [case.model_dump() for case in campaign.load_cases]
        layouts = {name: layout.sha256 for name, layout in campaign.layouts.items()}
        rated = (cases, campaign.scoring.model_dump(), campaign.regions, campaign.settings.as_dict(), layouts)
        tests = [str(path) for case in self.cases for path in campaign.test_paths(case)]
        windows = [window.model_dump() for window in tuning.windows]
        # Whole tables, not their text for people, which is cut short.
        parts = (EDITION, rated, tests, tuning.goal, tuning.rated.model_dump(), windows, VERSION)
        return hashlib.sha256(repr(parts).encode()).hexdigest()

    def __call__(self, identity: str, output: Path) -> dict[str, float]:
        """Rate the results of one run."""
        release = Release(name=identity, folder=str(output), layout=self.tuning.rated.layout)
        found: dict[str, float] = {}
        records: list[PairRecord] = []
        for case in self.cases:
            self._refuse_unstable(release, case)
            evaluation = self.evaluations[case.name]
            found |= curve_features(evaluation, release, self.tuning.rated.absurd_ratio)
            block = score_block(evaluation, release, ())
            records += [one for one in block.pairs if isinstance(one, PairRecord)]
            if not any(one.load_case == case.name for one in records):
                reason = block.unrated[0].reason if block.unrated else "it has no pair"
                raise SignalError(f"load case '{case.name}' cannot be rated: {reason}")
        found |= component_means(records)
        found |= self._ratings(aggregate(self.campaign, records, identity))
        return found | window_outcomes(self.tuning, release, self.campaign)

    def _refuse_unstable(self, release: Release, case: LoadCase) -> None:
        path = self.campaign.model_path(release, case)
        line = line_without_number(path)
        if line is not None:
            raise UnstableError("a result is not finite", where=f"{path.name}, line {line}")

    def _ratings(self, score: ReleaseScore) -> dict[str, float]:
        """Return the ratings of the release, its halves, its load cases and channels."""
        parts = [*score.training.parts, *(score.held_out.parts if score.held_out else ())]
        by_name = {part.name: part for part in parts}
        weights = {case.name: case.weight for case in self.cases}
        goal = self.tuning.goal
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
    """Return the load cases of the goal, training ones first."""
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


def curve_features(case: CaseEvaluation, release: Release, absurd_ratio: float) -> dict[str, float]:
    """Tell peak, time of peak and duration at half peak of every rated curve of a run."""
    found: dict[str, float] = {}
    for channel in case.channels:
        tests = [one for one in case.repeats(channel).values() if isinstance(one, Curve)]
        model = case.candidate(channel, release, tests[0] if tests else NO_TEST)
        place = f"load case '{case.load_case.name}', channel '{channel}'"
        if isinstance(model, Missing):
            raise SignalError(f"{place}: {model.reason}")
        if tests:
            pair = cut_pair(tests[0].signal, model.signal, case.recipe(channel))
            largest = max(float(np.abs(one.signal.samples).max()) for one in tests)
            _refuse_absurd(pair, largest, absurd_ratio, place)
            names = _features(pair)
            found |= {
                outcome_name("feature", case.load_case.name, channel, name): value
                for name, value in names.items()
            }
    return found


def _refuse_absurd(pair: AlignedPair, largest: float, absurd_ratio: float, place: str) -> None:
    peak = float(np.abs(pair.candidate).max())
    if peak >= absurd_ratio * largest > 0:
        raise UnstableError(
            f"the peak of the model is {peak / largest:.3g} times that of the tests", where=place
        )


def _features(pair: AlignedPair) -> dict[str, float]:
    """Return the features of the model's curve; none where it is zero throughout."""
    if not np.any(pair.candidate):
        return {}  # it rates as badly as it should
    pulse = pulse_of(pair.time, pair.candidate)
    named = {"peak": pulse.sign * pulse.height, "time of peak": pulse.peak_time}
    # A curve that does not fall below half of its peak inside the interval has no such duration.
    with suppress(SignalError):
        named["duration at half peak"] = half_duration(pulse)
    return named


def window_outcomes(tuning: Tuning, release: Release, campaign: Campaign) -> dict[str, float]:
    """Measure every watched quantity of a run."""
    from correlate.criteria import Preparation, qualify, window_book  # noqa: PLC0415 - most projects watch none

    found: dict[str, float] = {}
    for entry in tuning.windows:
        book = window_book((tuning.folder / entry.file,) if entry.file else ())
        case = campaign.load_case(entry.load_case)
        result = qualify(
            coded_model(case, campaign.read_model(release, case)),
            book.find(device=entry.device, test=entry.test),
            book,
            preparation=Preparation(remove_offset=False),
            impact_velocity_m_per_s=entry.impact_velocity_m_per_s,
        )
        for verdict in result.verdicts:
            is_of_the_test = book.quantities[verdict.name].measure == "impact velocity"
            if verdict.value is not None and not is_of_the_test:
                inside = min(verdict.value - verdict.low, verdict.high - verdict.value)
                name = outcome_name("window", entry.load_case, verdict.name)
                found[name] = inside / (verdict.high - verdict.low)
    return found


def line_without_number(path: Path) -> int | None:
    """Find where a program wrote that it had no number any more."""
    try:
        with opened(path) as file:
            for number, line in enumerate(file, start=1):
                if _NO_NUMBER.search(line):
                    return number
    except FormatError:
        return None
    return None

"""Rates the results of a design point as if they were a release, with features of curves and windows."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from functools import cached_property, partial
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.aggregation import ReleaseScore, Score, aggregate, combine
from correlate.campaign.block import score_block
from correlate.campaign.ceilings import campaign_ceilings
from correlate.conditioning import cut_pair
from correlate.diagnosis.features.pulse import half_duration, pulse_of
from correlate.errors import (
    CorrelateError,
    NoNumberError,
    SettingsError,
    ShortDataError,
    SignalError,
    UnfinishedError,
)
from correlate.evaluation.case import CaseEvaluation
from correlate.evaluation.channels import coded_model, model_channel
from correlate.evaluation.curves import Curve, Missing
from correlate.evaluation.definition import Campaign, load_campaign, read_so_far
from correlate.evaluation.record import PairRecord
from correlate.evaluation.tables import Release
from correlate.formats.columns import ColumnLayout, without_normal_end
from correlate.tuning.definition import LOSS_RATIO, WORST_CHANNEL
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, UnstableError, outcome_name
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from correlate.conditioning import Recipe
    from correlate.evaluation.tables import LoadCase
    from correlate.formats import Recording
    from correlate.pair import AlignedPair
    from correlate.tuning.definition import CriterionTable, Tuning, WindowTable

EDITION: Final = 3
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
        if LOSS_RATIO in tuning.goal.outcomes:
            _ = self._ceilings  # an objective that the tests cannot give is no fault of a run

    @property
    def key(self) -> str:
        """Hash of everything the outcomes depend on beside the results."""
        campaign, tuning = self.campaign, self.tuning
        # Not the whole campaign file: a release that is added changes no rating of a run.
        cases = [case.model_dump() for case in campaign.load_cases]
        layouts = {name: layout.sha256 for name, layout in campaign.layouts.items()}
        rated = (cases, campaign.scoring.model_dump(), campaign.regions, campaign.settings.as_dict(), layouts)
        tests = [str(path) for case in self.cases for path in campaign.test_paths(case)]
        windows = [one.model_dump() for one in (*tuning.windows, *tuning.criteria)]
        # Whole tables, not their text for people, which is cut short.
        parts = (EDITION, rated, tests, tuning.goal, tuning.rated.model_dump(), windows, VERSION)
        return hashlib.sha256(repr(parts).encode()).hexdigest()

    def __call__(self, identity: str, output: Path) -> dict[str, float]:
        """Rate the results of one run."""
        release = Release(name=identity, folder=str(output), layout=self.tuning.rated.layout)
        found: dict[str, float] = {}
        records: list[PairRecord] = []
        for case in self.cases:
            evaluation = self.evaluations[case.name]
            found |= curve_features(evaluation, release, self.tuning.rated.absurd_ratio)
            block = score_block(evaluation, release, ())
            records += [one for one in block.pairs if isinstance(one, PairRecord)]
            if not any(one.load_case == case.name for one in records):
                reason = block.unrated[0].reason if block.unrated else "it has no pair"
                raise SignalError(f"load case '{case.name}' cannot be rated: {reason}")
        found |= component_means(records)
        found |= self.ratings(aggregate(self.campaign, records, identity))
        return found | measured_outcomes(self.tuning, release, self.campaign)

    def ratings(self, score: ReleaseScore) -> dict[str, float]:
        """Return the ratings of the release, its halves, its load cases and channels."""
        parts = [*score.training.parts, *(score.held_out.parts if score.held_out else ())]
        by_name = {part.name: part for part in parts}
        weights = {case.name: case.weight for case in self.cases}
        goal = self.tuning.goal
        halves = ((TRAIN, goal.train), (HELD_OUT, goal.held_out), (OVERALL, tuple(weights)))
        combined = {
            name: combine("release", name, name, [(by_name[case], weights[case]) for case in cases])
            for name, cases in halves
            if cases
        }
        found = {name: one.overall for name, one in combined.items()}
        if LOSS_RATIO in goal.outcomes:
            found[LOSS_RATIO] = -self._loss_ratio(combined[TRAIN])
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

    def _loss_ratio(self, score: Score) -> float:
        """Average the loss ratios of the channels that have a ceiling, by their shares in the rating."""
        parts = [
            (share, (1.0 - channel.overall) / max(1.0 - ceiling, LEAST_HARDWARE_LOSS))
            for case in score.parts
            for channel, share in shares_of(case)
            if channel.overall is not None
            and (ceiling := self._ceilings.get((case.name, channel.name))) is not None
        ]
        total = sum(share for share, _ in parts)
        return sum(share * ratio for share, ratio in parts) / total

    @cached_property
    def _ceilings(self) -> dict[tuple[str, str], float]:
        """How well the tests of the training load cases repeat, by load case and channel."""
        train = self.tuning.goal.train
        found = campaign_ceilings(self.campaign, load_cases=train)
        ceilings = {(one.load_case, one.channel): one.overall for one in found}
        if not ceilings:
            raise SettingsError(
                "no channel of the training load cases has three repeats, which a loss ratio needs",
                where=str(self.tuning.path),
                remedy="choose another objective",
            )
        return ceilings


LEAST_HARDWARE_LOSS: Final = 0.01
"""Smallest loss assumed for the hardware, so that one channel with exact repeats does not dominate. Chosen
here."""


def shares_of(score: Score) -> Iterator[tuple[Score, float]]:
    """Yield every channel below a score of the tree, with its share in the score at the top."""
    if score.kind == "channel":
        yield score, score.weight
    for part in score.parts:
        for channel, share in shares_of(part):
            yield channel, share * score.weight


def checked_cases(tuning: Tuning, campaign: Campaign) -> list[LoadCase]:
    """Return the load cases of the goal, training ones first."""
    for name in tuning.goal.train:
        if campaign.load_case(name).held_out:
            raise SettingsError(
                f"load case '{name}' is to train, but the campaign holds it out",
                where=str(tuning.path),
                remedy="move it to 'held_out'",
            )
    for name in tuning.measured_cases:
        campaign.load_case(name)
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
        if isinstance(model, Missing):
            raise _why_missing(case, release, model.error, channel)
        if tests:
            place = _place(case, channel)
            pair = _cut(tests[0], model, case.recipe(channel), place)
            largest = max(float(np.abs(one.signal.samples).max()) for one in tests)
            _refuse_absurd(pair, largest, absurd_ratio, place)
            names = curve_features_of(pair)
            found |= {
                outcome_name("feature", case.load_case.name, channel, name): value
                for name, value in names.items()
            }
    return found


def _why_missing(
    case: CaseEvaluation, release: Release, error: CorrelateError, channel: str
) -> CorrelateError:
    """Return whether a run without one of its curves was unstable, is unfinished, or neither."""
    place, end_s = _place(case, channel), case.load_case.interval_ms[1] / 1e3
    until_s = end_s
    try:
        until_s = _last_time(case, release)
    except NoNumberError as fault:
        # Any channel of the load case may be the first without a number.
        return UnstableError(fault.what, where=_inside(fault.located(_place(case)), release))
    except UnfinishedError as fault:
        return UnfinishedError(f"there are no results: {fault.what}", where=place)
    except CorrelateError as fault:
        unfinished = error if isinstance(error, UnfinishedError) else _without_end(case, release)
        if unfinished is not None:
            return UnfinishedError(
                f"{unfinished.what}; {fault.what}", where=_inside(fault.located(place), release)
            )
    if isinstance(error, UnfinishedError) or until_s < end_s:
        return _ended_at(until_s, end_s, place, error.what if isinstance(error, UnfinishedError) else "")
    kind = UnstableError if isinstance(error, NoNumberError) else SignalError
    return kind(error.what, where=_inside(error.located(place), release), remedy=error.remedy)


def _last_time(case: CaseEvaluation, release: Release) -> float:
    """Return the last time in s that all rated channels of a model have so far."""
    path = case.campaign.model_path(release, case.load_case)
    recording = read_so_far(path, case.campaign.model_layout(release, case.load_case))
    ends = []
    for plan in case.load_case.channel:
        try:
            ends.append(model_channel(plan, recording).end_s + plan.model_shift_ms / 1e3)
        except NoNumberError as error:
            raise error.located(f"channel '{plan.name}'") from error
    return min(ends)


def _without_end(case: CaseEvaluation, release: Release) -> UnfinishedError | None:
    layout = case.campaign.model_layout(release, case.load_case)
    path = case.campaign.model_path(release, case.load_case)
    return without_normal_end(path, layout) if isinstance(layout, ColumnLayout) and path.exists() else None


def _place(case: CaseEvaluation, channel: str = "") -> str:
    return f"load case '{case.load_case.name}'" + (f", channel '{channel}'" if channel else "")


def _inside(error: CorrelateError, release: Release) -> str:
    """Return the location of an error without the folder of the results, which is already named."""
    return error.where.replace(f"{release.folder}/", "")


def _cut(test: Curve, model: Curve, recipe: Recipe, place: str) -> AlignedPair:
    """Cut both to the interval; a model that stops before its end belongs to an unfinished run."""
    try:
        return cut_pair(test.signal, model.signal, recipe)
    except ShortDataError as error:
        if not error.is_model:
            raise
        raise _ended_at(error.until_s, error.end_s, place) from error


def _ended_at(until_s: float, end_s: float, place: str, why: str = "") -> UnfinishedError:
    what = f"the results end at {until_s * 1e3:.4g} ms of {end_s * 1e3:.4g} ms"
    return UnfinishedError(f"{what}: {why}" if why else what, where=place)


def _refuse_absurd(pair: AlignedPair, largest: float, absurd_ratio: float, place: str) -> None:
    peak = float(np.abs(pair.candidate).max())
    if peak >= absurd_ratio * largest > 0:
        raise UnstableError(
            f"the peak of the model is {peak / largest:.3g} times that of the tests", where=place
        )


def curve_features_of(pair: AlignedPair) -> dict[str, float]:
    """Return the features of the model's curve; none where it is zero throughout."""
    if not np.any(pair.candidate):
        return {}  # it rates as badly as it should
    pulse = pulse_of(pair.time, pair.candidate)
    named = {"peak": pulse.sign * pulse.height, "time of peak": pulse.peak_time}
    # A curve that does not fall below half of its peak inside the interval has no such duration.
    with suppress(SignalError):
        named["duration at half peak"] = half_duration(pulse)
    return named


def measured_outcomes(tuning: Tuning, release: Release, campaign: Campaign) -> dict[str, float]:
    """Measure every watched window and criterion of a run."""
    found: dict[str, float] = {}
    for load_case, measured in measurements(tuning):
        case = campaign.load_case(load_case)
        found |= measured(coded_model(case, campaign.read_model(release, case)))
    return found


def measurements(tuning: Tuning) -> list[tuple[str, Callable[[Recording], dict[str, float]]]]:
    """Return the load case of every window and criterion, and what measures it on a model."""
    return [
        *((one.load_case, partial(measured_windows, tuning, one)) for one in tuning.windows),
        *((one.load_case, partial(measured_criteria, one)) for one in tuning.criteria),
    ]


def measured_criteria(entry: CriterionTable, model: Recording) -> dict[str, float]:
    """Compute every criterion of a model under the codes of the tests that its channels allow."""
    from correlate.criteria import find_device, recorded_criteria  # noqa: PLC0415 - most projects ask for none

    found = recorded_criteria(model, find_device(entry.device)).entries
    return {
        outcome_name("criterion", entry.load_case, one.criterion.name, one.place): one.value
        for one in found
        if one.value is not None
    }


def measured_windows(tuning: Tuning, window: WindowTable, model: Recording) -> dict[str, float]:
    """Measure the quantities of one window on a model under the codes of the tests."""
    from correlate.criteria import Preparation, qualify, window_book  # noqa: PLC0415 - most projects watch none

    book = window_book((tuning.folder / window.file,) if window.file else ())
    result = qualify(
        model,
        book.find(device=window.device, test=window.test),
        book,
        preparation=Preparation(remove_offset=False),
        impact_velocity_m_per_s=window.impact_velocity_m_per_s,
    )
    found: dict[str, float] = {}
    for verdict in result.verdicts:
        is_of_the_test = book.quantities[verdict.name].measure == "impact velocity"
        if verdict.value is not None and not is_of_the_test:
            inside = min(verdict.value - verdict.low, verdict.high - verdict.value)
            found[outcome_name("window", window.load_case, verdict.name)] = inside / (
                verdict.high - verdict.low
            )
    return found

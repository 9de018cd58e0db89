"""The conditioned curves of the runs, to which the emulator is fitted."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import cut_pair
from correlate.errors import CorrelateError, SettingsError
from correlate.evaluation.channels import coded_model
from correlate.evaluation.curves import Curve, Missing
from correlate.evaluation.tables import Release
from correlate.files import whole_file
from correlate.plain_files import read_arrays

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from correlate.evaluation.case import CaseEvaluation
    from correlate.tuning.definition import Tuning
    from correlate.tuning.rating import RunRater
    from correlate.tuning.runs import RunTable, TuningState

    Floats = NDArray[np.float64]


FILE: Final = "traces.npz"
"""Name beside the record of a run."""
EDITION: Final = 1
"""Version of the file; raised when its content changes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraceChannel:
    """One channel of one load case, and the tests it is compared with.

    Attributes
    ----------
    load_case, channel
        Names.
    unit
        Of the curves: that of the tests.
    time
        Shape ``(t,)``, s: the interval of the load case; of a recorded channel, all that it recorded.
    tests
        Conditioned curves of the tests, or of their mean, by name, each of shape ``(t,)``. Empty for a
        recorded channel.
    recorded
        Whether the curve is that of the model as it was recorded, under the code of the test, for criteria
        and windows; otherwise it is conditioned as it is rated.
    """

    load_case: str
    channel: str
    unit: str
    time: Floats
    tests: Mapping[str, Floats]
    recorded: bool = False

    @property
    def step_s(self) -> float:
        """The time step, in s."""
        return float((self.time[-1] - self.time[0]) / (self.time.size - 1))

    @property
    def size(self) -> float:
        """The largest absolute value of the tests, 0 without one."""
        return max((float(np.abs(one).max()) for one in self.tests.values()), default=0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraceTable:
    """The curves of the finished runs of a project.

    Attributes
    ----------
    rows
        Rows of the table of runs that the curves belong to, shape ``(n,)``.
    cube
        Their points in the unit cube, shape ``(n, d)``.
    channels
        Channels of the curves.
    curves
        Of each channel, shape ``(n, t)``.
    """

    rows: NDArray[np.int64]
    cube: Floats
    channels: tuple[TraceChannel, ...]
    curves: tuple[Floats, ...]

    def select(self, places: Sequence[int] | NDArray[np.int64] | NDArray[np.bool_]) -> TraceTable:
        """Return the curves of some of the runs."""
        chosen = np.arange(len(self.rows))[np.asarray(places)]
        return TraceTable(
            rows=self.rows[chosen],
            cube=self.cube[chosen],
            channels=self.channels,
            curves=tuple(one[chosen] for one in self.curves),
        )


def read_traces(
    tuning: Tuning,
    rater: RunRater,
    state: TuningState,
    table: RunTable,
    *,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> TraceTable:
    """Return the curves of all finished runs; those that were read before come from a file beside the record.

    Parameters
    ----------
    tuning, rater, state, table
        The project, what rates its runs, its records and runs.
    progress
        Called with the number of runs read and their total number.

    Returns
    -------
    TraceTable

    Raises
    ------
    SettingsError
        No run is finished.
    CorrelateError
        The results of a run can no longer be read, or one of its channels differs in length from the others.
    """
    rows = np.flatnonzero(table.done)
    if rows.size == 0:
        raise SettingsError("no run is finished", remedy="run 'correlate tune run'")
    found: list[dict[str, Floats]] = []
    channels: tuple[TraceChannel, ...] = ()
    for place, row in enumerate(rows.tolist()):
        identity = table.identities[row]
        key = _key(rater, state.records[identity].deck_sha256, state.records[identity].started)
        path = tuning.run_folder(identity) / FILE
        curves = _kept(path, key)
        if curves is None or not channels:
            release = Release(
                name=identity, folder=str(tuning.output_folder(identity)), layout=tuning.rated.layout
            )
            named = dict(run_traces(rater, release))
            channels = channels or tuple(channel for channel, _ in named.values())
            if curves is None:
                curves = {name: samples for name, (_, samples) in named.items()}
                _keep(path, key, curves)
        found.append(curves)
        progress(place + 1, rows.size)
    stacked = []
    for channel in channels:
        name = _name(channel)
        stacked.append(
            np.array(
                [
                    _fitting(one, name, channel, table.identities[row])
                    for one, row in zip(found, rows, strict=True)
                ]
            )
        )
    return TraceTable(
        rows=rows,
        cube=table.space.to_unit(table.points[rows]),
        channels=channels,
        curves=tuple(stacked),
    )


def _name(channel: TraceChannel) -> str:
    return "\n".join(["recorded" if channel.recorded else "rated", channel.load_case, channel.channel])


def _fitting(curves: Mapping[str, Floats], name: str, channel: TraceChannel, identity: str) -> Floats:
    samples = curves.get(name)
    if samples is None or samples.size != channel.time.size:
        count = "none" if samples is None else str(samples.size)
        raise SettingsError(
            f"load case '{channel.load_case}', channel '{channel.channel}': {count} samples, but the other "
            f"runs have {channel.time.size}",
            where=f"run '{identity}'",
            remedy="run the point again, or remove it from the design",
        )
    return samples


def _key(rater: RunRater, deck_sha256: str, started: str) -> str:
    """Hash what the curves of a run depend on."""
    return hashlib.sha256(repr((EDITION, rater.key, deck_sha256, started)).encode()).hexdigest()


def _kept(path: Path, key: str) -> dict[str, Floats] | None:
    """Return the saved curves, unless they are out of date or cannot be read."""
    try:
        content = read_arrays(path)
        if str(content["key"]) != key:
            return None
        return {str(name): content[f"curve{place}"] for place, name in enumerate(content["names"])}
    except (OSError, ValueError, KeyError):
        return None


def _keep(path: Path, key: str, curves: Mapping[str, Floats]) -> None:
    """Save curves beside the record; in a read-only project they are read again the next time."""
    named = {f"curve{place}": samples for place, samples in enumerate(curves.values())}
    with suppress(OSError, CorrelateError), whole_file(path) as stream:
        np.savez(stream, key=np.array(key), names=np.array(list(curves)), **named)  # type: ignore[arg-type]


def run_traces(rater: RunRater, release: Release) -> Iterator[tuple[str, tuple[TraceChannel, Floats]]]:
    """Yield the curves of a run by name: those that are rated, then those that are measured.

    Parameters
    ----------
    rater
        What rates the run.
    release
        Folder and layout of its results.

    Yields
    ------
    tuple of str and tuple of TraceChannel and numpy.ndarray
        The curve has the shape of the channel's time.

    Raises
    ------
    CorrelateError
        The results cannot be read, or not be conditioned.
    """
    for evaluation in rater.evaluations.values():
        for channel in evaluation.channels:
            found = _rated(evaluation, channel, release)
            if found is not None:
                yield _name(found[0]), found
        if evaluation.load_case.name in rater.tuning.measured_cases:
            for found in _recorded(evaluation, release):
                yield _name(found[0]), found
        evaluation.forget_model()


def _rated(evaluation: CaseEvaluation, channel: str, release: Release) -> tuple[TraceChannel, Floats] | None:
    """Return a channel and its curve as it is rated; None without a test to rate it against."""
    tests: dict[str, Floats] = {}
    time = samples = np.zeros(0)
    unit = "1"
    for repeat, reference in evaluation.references(channel).items():
        if isinstance(reference, Missing):
            continue
        candidate = evaluation.candidate(channel, release, reference)
        if isinstance(candidate, Missing):
            raise candidate.error
        pair = cut_pair(reference.signal, candidate.signal, evaluation.recipe(channel))
        tests[repeat] = pair.reference
        time, samples, unit = pair.time, pair.candidate, _unit_of(reference)
    if not tests:
        return None
    found = TraceChannel(
        load_case=evaluation.load_case.name, channel=channel, unit=unit, time=time, tests=tests
    )
    return found, samples


def _unit_of(curve: Curve) -> str:
    return curve.signal.unit


def _recorded(evaluation: CaseEvaluation, release: Release) -> Iterator[tuple[TraceChannel, Floats]]:
    """Yield the model's channels under the codes of the tests, as windows take them."""
    model = evaluation.campaign.read_model(release, evaluation.load_case)
    for signal in coded_model(evaluation.load_case, model).signals:
        channel = TraceChannel(
            load_case=evaluation.load_case.name,
            channel=signal.channel,
            unit=signal.unit,
            time=signal.time_s,
            tests={},
            recorded=True,
        )
        yield channel, signal.samples

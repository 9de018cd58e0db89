"""Running what is missing and rating what is unrated, so that a stop at any time loses no finished run."""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING, Protocol

from correlate.errors import CorrelateError, SettingsError
from correlate.tuning.deck import DeckWriter
from correlate.tuning.lock import lock_of_project
from correlate.tuning.record import write_record
from correlate.tuning.running import job_of
from correlate.tuning.state import read_state

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from correlate.tuning.definition import Tuning
    from correlate.tuning.engines import Engine
    from correlate.tuning.record import RunRecord
    from correlate.tuning.state import TuningState

    Progress = Callable[[RunRecord, int, int], None]


class Rater(Protocol):
    """Says what results are worth."""

    @property
    def key(self) -> str:
        """Hash of everything the outcomes depend on beside the results."""

    def __call__(self, identity: str, output: Path) -> Mapping[str, float]:
        """Return outcomes by name.

        Raises
        ------
        UnstableError
            The results are no sound numbers.
        CorrelateError
            The results cannot be rated.
        """


def run_missing(
    tuning: Tuning,
    rate: Rater,
    *,
    engine: Engine,
    again: bool = False,
    progress: Progress = lambda *_: None,
) -> list[RunRecord]:
    """Run the design points that have no record, and rate every run that has results and no rating.

    Parameters
    ----------
    tuning
        The project.
    rate
        Says what results are worth; runs that another rater rated are rated again.
    engine
        Runs jobs.
    again
        Run again what failed, timed out or was unstable.
    progress
        Told about every ended run, with how many there are now and how many there will be.

    Returns
    -------
    list of RunRecord
        Of the runs of this call, as they ended.

    Raises
    ------
    CorrelateError
        The project cannot be used. A run that fails raises nothing.
    """
    tuning.runs_folder.mkdir(exist_ok=True)
    with lock_of_project(tuning.runs_folder):
        state = read_state(tuning)
        decks = DeckWriter(tuning)
        _refuse_other_decks(tuning, state, decks)
        jobs = [job_of(tuning, point, decks) for point in state.missing(again=again)]
        ended: list[RunRecord] = []
        if jobs:
            with closing(engine(jobs)) as results:
                for record in results:
                    ended.append(rated(tuning, record, rate))
                    progress(ended[-1], len(ended), len(jobs))
        rate_unrated(tuning, read_state(tuning), rate)
        return ended


def rate_unrated(tuning: Tuning, state: TuningState, rate: Rater) -> list[RunRecord]:
    """Rate every run that has results and was not rated by this rater, and keep the outcomes.

    Parameters
    ----------
    tuning
        The project.
    state
        Its points and records.
    rate
        Says what results are worth.

    Returns
    -------
    list of RunRecord
        Those that were rated now.
    """
    unrated = [one for one in state.records.values() if one.has_results and one.rated_by != rate.key]
    return [rated(tuning, record, rate) for record in unrated]


def rated(tuning: Tuning, record: RunRecord, rate: Rater) -> RunRecord:
    """Rate one run and keep the outcomes in its record; one without results is returned as it is."""
    if not record.has_results:
        return record
    try:
        outcomes = rate(record.identity, tuning.output_folder(record.identity))
    except CorrelateError as error:
        record = record.refused(error, by=rate.key)
    else:
        record = record.rated(outcomes, by=rate.key)
    write_record(tuning.run_folder(record.identity), record)
    return record


def _refuse_other_decks(tuning: Tuning, state: TuningState, decks: DeckWriter) -> None:
    other = [
        one.identity
        for one in state.points
        if one.identity in state.records
        and state.records[one.identity].deck_sha256 != decks.write(one.values, name=one.identity).sha256
    ]
    if other:
        raise SettingsError(
            f"the decks have changed since the runs of {', '.join(other)}",
            where=str(tuning.path),
            remedy="put the template back, or delete the folders of these runs under 'runs'",
        )

"""Running what is missing, here or through a scheduler, and collecting results from elsewhere."""

from __future__ import annotations

import os
import shutil
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.files import whole_folder
from correlate.limits import LARGEST_RECORD
from correlate.parallel import (
    batch_cluster,
    given_up,
    has_result,
    one_task_a_job,
    scheduled,
    scheduler_client,
    share_out,
)
from correlate.plain_files import read_json, whole_bytes
from correlate.tuning.decks import DeckWriter, WrittenDeck
from correlate.tuning.running import (
    job_of,
    lock_of_project,
    log_tail,
    run_in_job,
    run_job,
    stop_in_job,
    waiting,
)
from correlate.tuning.runs import LOG, NAME, RunRecord, read_state, write_record

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Mapping, Sequence
    from pathlib import Path

    from correlate.parallel import BatchJob
    from correlate.tuning.definition import Tuning
    from correlate.tuning.points import DesignPoint
    from correlate.tuning.running import RunJob
    from correlate.tuning.runs import TuningState

    Engine = Callable[[Sequence[RunJob]], Generator[RunRecord]]

    Progress = Callable[[RunRecord, int, int], None]


def local_engine(at_once: int) -> Engine:
    """Return an engine of threads, each waiting for a process."""
    if at_once < 1:
        raise SettingsError(f"{at_once} runs at a time are not possible", remedy="give 1 or more")
    if not hasattr(os, "killpg"):
        raise SettingsError(
            "design points cannot be run on this system, which cannot end a solver with all it started",
            remedy="write the decks with 'correlate tune decks', run them yourself, and use 'tune collect'",
        )

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        stop = threading.Event()
        waiting_jobs = iter(jobs)
        with ExitStack() as started:
            # Last in, first called: the processes are told to stop before anybody waits for them.
            pools = [
                started.enter_context(ThreadPoolExecutor(1, f"run {number}"))
                for number in range(min(at_once, len(jobs)))
            ]
            started.callback(stop.set)
            workers = [(pool, partial(run_job, stop=stop)) for pool in pools]
            for _, record in share_out(lambda _: next(waiting_jobs, None), workers, ahead=0):
                yield record

    return engine


def dask_engine(address: str) -> Engine:
    """Return an engine that hands runs to a scheduler; its workers decide how many run at once."""

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        with scheduler_client(address) as client:
            for ended in scheduled(client, run_job, jobs):
                for job, future in ended:
                    yield _record_of(future, job)

    return engine


def cluster_engine(job: BatchJob) -> Engine:
    """Return an engine that gives each run a job of a batch system."""

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        with batch_cluster(job) as cluster:
            shared = one_task_a_job(cluster, run_in_job, list(jobs), at_once=job.at_once, stop=stop_in_job)
            with closing(shared) as results:
                for run, future in results:
                    lost = waiting(run, f"its job was lost; see its log in {job.folder}")
                    yield lost if future is None else _record_of(future, run)

    return engine


def _record_of(future: Any, job: RunJob) -> RunRecord:
    """Return what came back; a run whose worker was lost is still to be run, and does not stop the others."""
    if has_result(future):
        record: RunRecord = future.result()
        return record
    return waiting(job, given_up(future))


class Rater(Protocol):
    """Says what results are worth."""

    @property
    def key(self) -> str:
        """Hash of everything the outcomes depend on beside the results."""

    def __call__(self, identity: str, output: Path) -> Mapping[str, float]:
        """Return outcomes by name."""


def run_missing(
    tuning: Tuning,
    rate: Rater,
    *,
    engine: Engine,
    again: bool = False,
    progress: Progress = lambda *_: None,
) -> list[RunRecord]:
    """Run the design points that have no record, and rate every run that has results and no rating."""
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


def rated_by_other_rules(state: TuningState, rater: Rater) -> tuple[str, ...]:
    """Name the finished runs whose outcomes come from other rules than those of the project now."""
    return tuple(
        name
        for name, one in state.records.items()
        if one.status == "done" and one.rated_by and one.rated_by != rater.key
    )


def rate_unrated(tuning: Tuning, state: TuningState, rate: Rater) -> list[RunRecord]:
    """Rate every run that has results and was not rated by this rater, and keep the outcomes."""
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


VALUES = "values.json"
"""File of parameter values by name, in the place of a deck."""


@dataclass(frozen=True, slots=True)
class Collected:
    """What came of taking in a folder.

    Attributes
    ----------
    taken
        Records of the runs that were taken in; not rated yet.
    known
        Names of the points that have a run already; their results were left alone.
    """

    taken: tuple[RunRecord, ...]
    known: tuple[str, ...]


def write_decks(tuning: Tuning, folder: Path) -> list[str]:
    """Write the decks of all points that have not been run, one folder each, to be run elsewhere."""
    decks = DeckWriter(tuning)
    missing = read_state(tuning).missing()
    with whole_folder(folder) as beside:
        for point in missing:
            place = beside / point.identity
            place.mkdir()
            text = decks.write(point.values, name=point.identity).text
            (place / tuning.deck.file).write_bytes(text.encode("utf-8"))
    return [point.identity for point in missing]


def collect(tuning: Tuning, folder: Path) -> Collected:
    """Take in results of runs that were made elsewhere."""
    if not folder.is_dir():
        raise FormatError("there is no such folder", where=str(folder), remedy="name a folder of runs")
    places = sorted(place for place in folder.iterdir() if place.is_dir() and not place.name.startswith("."))
    if not places:
        raise FormatError("there are no runs in the folder", where=str(folder), remedy="one folder per run")
    tuning.runs_folder.mkdir(exist_ok=True)
    with lock_of_project(tuning.runs_folder):
        state = read_state(tuning)
        by_hash = _by_hash(tuning, state.points)
        matched = [(place, _point_of(place, tuning, state.points, by_hash)) for place in places]
        _refuse(tuning, folder, matched)
        taken: list[RunRecord] = []
        known = []
        for place, point in matched:
            if point is None:
                continue
            if point.identity in state.records:
                known.append(point.identity)
                continue
            deck = next(key for key, one in by_hash.items() if one is point)
            taken.append(_take(tuning, place, point, deck))
    return Collected(tuple(taken), tuple(known))


def _by_hash(tuning: Tuning, points: tuple[DesignPoint, ...]) -> dict[str, DesignPoint]:
    decks = DeckWriter(tuning)
    return {decks.write(one.values, name=one.identity).sha256: one for one in points}


def _point_of(
    place: Path, tuning: Tuning, points: tuple[DesignPoint, ...], by_hash: Mapping[str, DesignPoint]
) -> DesignPoint | None:
    """Return the design point of a run, by its deck, else by its values."""
    deck = place / tuning.deck.file
    if deck.is_file():
        # Line ends may have changed on the way between machines; they are no part of a deck.
        content = whole_bytes(deck, most=LARGEST_RECORD).replace(b"\r\n", b"\n")
        text = content.decode("utf-8", errors="replace")
        return by_hash.get(WrittenDeck(text).sha256)
    try:
        values: Any = read_json(place / VALUES)
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise FormatError(
            "cannot be read", where=str(place / VALUES), remedy="write names and numbers"
        ) from error
    return next((one for one in points if one.values == values), None)


def _refuse(tuning: Tuning, folder: Path, matched: list[tuple[Path, DesignPoint | None]]) -> None:
    strangers = [place.name for place, point in matched if point is None]
    if strangers:
        raise SettingsError(
            f"of no design point: {', '.join(strangers)}",
            where=str(folder),
            remedy=f"keep '{tuning.deck.file}' as it was written, or add '{VALUES}' with the values of "
            f"a line of '{tuning.design_file.name}'; nothing was imported",
        )
    seen: dict[str, str] = {}
    for place, point in matched:
        if point is not None and seen.setdefault(point.identity, place.name) != place.name:
            raise SettingsError(
                f"'{seen[point.identity]}' and '{place.name}' are both point '{point.identity}'",
                where=str(folder),
                remedy="remove one; nothing was imported",
            )


def _take(tuning: Tuning, place: Path, point: DesignPoint, deck_sha256: str) -> RunRecord:
    """Copy deck, log and results of one run, and write its record last."""
    target = tuning.run_folder(point.identity)
    shutil.rmtree(target, ignore_errors=True)  # at most what a stopped run left
    record = RunRecord(
        identity=point.identity,
        values=dict(point.values),
        deck_sha256=deck_sha256,
        status="done",
        collected_from=str(place.resolve()),
        log_tail=log_tail(place / LOG, tuning.run.log_lines),
    )
    with whole_folder(target) as beside:
        inner = place / "output"
        own = {tuning.deck.file, VALUES, LOG, NAME, "lock"}
        (beside / "output").mkdir()
        for entry in sorted(inner.iterdir() if inner.is_dir() else place.iterdir()):
            if inner.is_dir() or entry.name not in own:
                _copy(entry, beside / "output" / entry.name)
        for name in sorted(own - {NAME, "lock"}):
            if (place / name).is_file():
                shutil.copyfile(place / name, beside / name)
        write_record(beside, record)
    return record


def _copy(entry: Path, target: Path) -> None:
    if entry.is_dir():
        shutil.copytree(entry, target)
    else:
        shutil.copyfile(entry, target)

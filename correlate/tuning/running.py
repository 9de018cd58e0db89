"""Running one design point: its deck, its lock, its process, its record."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections import deque
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final

from correlate.child_processes import end_group, ended_with_this_process
from correlate.errors import SettingsError
from correlate.files import Lock, write_text
from correlate.plain_files import read_json
from correlate.tuning.runs import LOG, NAME, RunRecord, write_record

if TYPE_CHECKING:
    from pathlib import Path
    from typing import BinaryIO

    from correlate.tuning.decks import DeckWriter
    from correlate.tuning.definition import Tuning
    from correlate.tuning.points import DesignPoint
    from correlate.tuning.runs import Status


PATIENCE_S: Final = 10.0
"""How long an orphan may take to end after it was told to. Chosen here."""


def sign(lock: Lock, group: int | None) -> None:
    """Write down the host, and the process group that works under a lock."""
    lock.write(json.dumps({"host": socket.gethostname(), "group": group}))


def lock_of_project(folder: Path) -> Lock:
    """Lock the runs of a project, so that one program at a time starts runs there."""
    try:
        return _signed(folder / "lock")
    except BlockingIOError:
        raise SettingsError(
            "another program is running design points here",
            where=str(folder),
            remedy="wait for it, or stop it first",
        ) from None


def lock_of_run(path: Path) -> Lock:
    """Lock one run; a leftover of a killed program that still works under the lock is stopped first."""
    with contextlib.suppress(BlockingIOError):
        return _signed(path)
    try:
        holder = read_json(path)
    except ValueError:
        holder = {"host": "", "group": None}
    if holder["host"] == socket.gethostname() and holder["group"] is not None:
        end_group(holder["group"])
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            with contextlib.suppress(BlockingIOError):
                return _signed(path)
            time.sleep(0.05)
    place = f" on {holder['host']}" if holder["host"] else ""
    raise SettingsError(
        f"is still being run{place}", where=str(path.parent), remedy="wait for it, or stop it there"
    )


def _signed(path: Path) -> Lock:
    lock = Lock(path)
    sign(lock, None)
    return lock


_LOOK_S: Final = 0.2
"""How often a waiting thread looks whether it is to stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJob:
    """Everything that is needed to run one design point, on this machine or another that sees the folder.

    Attributes
    ----------
    point
        Name and values.
    deck_text, deck_sha256, deck_name
        The deck and the file it goes into.
    folder
        Of the run.
    command
        Program and arguments.
    working_folder
        Where it is started.
    timeout_s, retries, environment, log_lines
        As in the tuning file.
    """

    point: DesignPoint
    deck_text: str
    deck_sha256: str
    deck_name: str
    folder: Path
    command: tuple[str, ...]
    working_folder: Path
    timeout_s: float
    retries: int
    environment: dict[str, str]
    log_lines: int


@dataclass(frozen=True, slots=True)
class _Attempt:
    status: Status
    message: str
    exit_code: int | None
    duration_s: float


class _StoppedError(Exception):
    """Somebody asked to stop; the run counts as never begun."""


def job_of(tuning: Tuning, point: DesignPoint, decks: DeckWriter) -> RunJob:
    """Make the job of a design point."""
    folder = tuning.run_folder(point.identity)
    deck = decks.write(point.values, name=point.identity)
    places = {
        "python": sys.executable,
        "deck": str(folder / tuning.deck.file),
        "output": str(tuning.output_folder(point.identity)),
        "run": str(folder),
        "project": str(tuning.folder),
        "point": point.identity,
    }
    return RunJob(
        point=point,
        deck_text=deck.text,
        deck_sha256=deck.sha256,
        deck_name=tuning.deck.file,
        folder=folder,
        command=tuple(_filled(word, places) for word in tuning.run.command),
        working_folder=tuning.folder / tuning.run.folder if tuning.run.folder else folder,
        timeout_s=tuning.run.timeout_s,
        retries=tuning.run.retries,
        environment=dict(tuning.run.environment),
        log_lines=tuning.run.log_lines,
    )


def run_job(job: RunJob, stop: threading.Event | None = None) -> RunRecord:
    """Run a design point and write its record."""
    job.folder.mkdir(parents=True, exist_ok=True)
    started = datetime.now(UTC).isoformat(timespec="seconds")
    try:
        with lock_of_run(job.folder / "lock") as lock:
            _clear(job)
            attempts, last = _attempts(job, lock, stop)
            record = RunRecord(
                identity=job.point.identity,
                values=dict(job.point.values),
                deck_sha256=job.deck_sha256,
                status=last.status,
                message=last.message,
                exit_code=last.exit_code,
                attempts=attempts,
                started=started,
                duration_s=round(last.duration_s, 3),
                command=job.command,
                log_tail=log_tail(job.folder / LOG, job.log_lines),
            )
            write_record(job.folder, record)
            return record
    except _StoppedError:
        return waiting(job, "it was stopped")
    except SettingsError as error:
        return waiting(job, str(error))


_STOP: Final = threading.Event()
_AT_WORK: Final = threading.Lock()


def run_in_job(job: RunJob) -> RunRecord:
    """Run a design point inside a job of a batch system, one at a time."""
    with _AT_WORK:
        return run_job(job, _STOP)


def stop_in_job() -> None:
    """End the run of this job with its solver, and wait for that."""
    _STOP.set()
    with _AT_WORK:
        pass


def log_tail(path: Path, lines: int) -> tuple[str, ...]:
    """Return the last lines of a log; none when there is no log."""
    try:
        with path.open(encoding="utf-8", errors="replace") as file:
            return tuple(line.rstrip("\n") for line in deque(file, maxlen=lines))
    except FileNotFoundError:
        return ()


def _filled(word: str, places: dict[str, str]) -> str:
    for name, value in places.items():
        word = word.replace(f"{{{name}}}", value)
    return word


def waiting(job: RunJob, message: str) -> RunRecord:
    """Return what stands for the record of a run that is still to be made; it is never written."""
    return RunRecord(
        identity=job.point.identity,
        values=dict(job.point.values),
        deck_sha256=job.deck_sha256,
        status="waiting",
        message=message,
    )


def _clear(job: RunJob) -> None:
    """Remove what an earlier run left, the record first, so that no old record stands beside new results."""
    (job.folder / NAME).unlink(missing_ok=True)
    (job.folder / LOG).unlink(missing_ok=True)
    write_text(job.folder / job.deck_name, job.deck_text)


def _attempts(job: RunJob, lock: Lock, stop: threading.Event | None) -> tuple[int, _Attempt]:
    """Try until it is done, has timed out, or the retries are used up."""
    number = 0
    while True:
        number += 1
        shutil.rmtree(job.folder / "output", ignore_errors=True)
        (job.folder / "output").mkdir()
        with (job.folder / LOG).open("ab") as log:
            if number > 1:
                log.write(f"--- attempt {number} ---\n".encode())
                log.flush()
            last = _attempt(job, lock, log, stop)
        if last.status != "failed" or number > job.retries:
            return number, last


def _attempt(job: RunJob, lock: Lock, log: BinaryIO, stop: threading.Event | None) -> _Attempt:
    begun = time.monotonic()
    try:
        process = subprocess.Popen(  # noqa: S603 - the command is the user's own
            job.command,
            cwd=job.working_folder,
            env={**os.environ, **job.environment},
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,  # so that a solver is ended with all it started
            pass_fds=(lock.descriptor,),  # so that an orphan is known by its lock
        )
    except OSError as error:
        return _Attempt("failed", f"'{job.command[0]}' cannot be started: {error}", None, 0.0)
    with ended_with_this_process(process.pid):
        sign(lock, process.pid)
        try:
            code = _awaited(process, begun + job.timeout_s, stop)
        finally:
            if process.returncode is None:  # not reaped yet, so the number still is its own
                end_group(process.pid)
                process.wait()
    took = time.monotonic() - begun
    if code is None:
        return _Attempt("timed out", f"it was stopped after {job.timeout_s:g} s", None, took)
    if code:
        return _Attempt("failed", f"the program ended with exit code {code}", code, took)
    return _Attempt("done", "", 0, took)


def _awaited(process: subprocess.Popen[bytes], until: float, stop: threading.Event | None) -> int | None:
    """Return the exit code; None when time is up."""
    while True:
        left = until - time.monotonic()
        with contextlib.suppress(subprocess.TimeoutExpired):
            return process.wait(timeout=max(0.0, min(left, _LOOK_S)))
        if left <= 0:
            return None
        if stop is not None and stop.is_set():
            raise _StoppedError

"""Work distributed to workers on this machine, to a scheduler, or to jobs of a batch system."""

from __future__ import annotations

import os
import platform
import shlex
import shutil
import signal
import sys
import time
from collections import deque
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import version
from itertools import count, islice
from multiprocessing.context import SpawnContext, SpawnProcess
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

from correlate.child_processes import end_with_parent
from correlate.errors import CorrelateError, SettingsError
from correlate.extras import need_extra
from correlate.interrupt import held_back
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterable, Iterator, Sequence

Task = TypeVar("Task")
Result = TypeVar("Result")

PATIENCE_S: Final = 10
"""How long a scheduler may take to answer. Chosen here."""


_AHEAD: Final = 4
"""Most tasks per worker that a scheduler has at a time. Chosen here."""
_LEAST_AHEAD: Final = 64
"""Number of tasks that it may have in any case; workers may start later."""
_TOGETHER: Final = 4
"""Maximum number of finished tasks that are yielded together. Chosen for this program."""


@contextmanager
def scheduler_client(address: str) -> Iterator[Any]:
    """Connect to a scheduler."""
    try:
        distributed: Any = import_module("distributed")  # slow, and an extra
    except ImportError as error:
        raise SettingsError(
            "the engine 'dask' needs a library that is not installed",
            remedy="install the extra 'scale', or use the engine 'local'",
        ) from error
    try:
        client = distributed.Client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise SettingsError(
            f"no scheduler answers at {address}", remedy="start it, and give its address with --scheduler"
        ) from error
    with client:
        yield client


class _Worker(SpawnProcess):
    """A process that ignores Ctrl-C; it ends with the process that started it."""

    def start(self) -> None:
        with held_back():
            super().start()

    def run(self) -> None:
        # A pool whose process was killed would wait for its next task for ever.
        end_with_parent()
        super().run()


class _Workers(SpawnContext):
    Process = _Worker


WORKERS: Final = _Workers()
"""How processes beside this one are started."""


@contextmanager
def without_working_folder() -> Iterator[None]:
    """Keep Python processes that are started meanwhile from importing what lies in the working folder."""
    before = os.environ.get("PYTHONSAFEPATH")
    os.environ["PYTHONSAFEPATH"] = "1"
    try:
        yield
    finally:
        os.environ.pop("PYTHONSAFEPATH")
        if before is not None:
            os.environ["PYTHONSAFEPATH"] = before


def share_out(
    take: Callable[[int], Task | None],
    workers: Sequence[tuple[Executor, Callable[[Task], Result]]],
    *,
    ahead: int,
) -> Iterator[tuple[Task, Result]]:
    """Give workers their tasks, and yield what they finish, in any order.

    Whenever a task has ended, workers without a task are offered one again.

    Parameters
    ----------
    take
        Returns the next task for a worker, by its index; None if there is none for it now.
    workers
        Executors, and what each does with a task.
    ahead
        Further tasks that a worker has waiting once it has finished its first.

    Raises
    ------
    CorrelateError
        The process of a worker has ended before its task.
    """
    running: dict[Future[Result], tuple[Task, int]] = {}

    def give(worker: int) -> None:
        task = take(worker)
        if task is not None:
            executor, work = workers[worker]
            with _lost_worker():
                running[executor.submit(work, task)] = task, worker

    answered = set()
    for worker in range(len(workers)):
        give(worker)
    while running:
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            task, worker = running.pop(future)
            give(worker)
            if worker not in answered:
                answered.add(worker)
                for _ in range(ahead):
                    give(worker)
            for idle in set(range(len(workers))) - {at for _, at in running.values()}:
                give(idle)
            with _lost_worker():
                result = future.result()
            yield task, result


@contextmanager
def _lost_worker() -> Iterator[None]:
    """Say in one sentence that a process of a pool has ended, which breaks the pool."""
    try:
        yield
    except BrokenExecutor as error:
        raise CorrelateError(
            "a process that shared the work ended early (killed, or out of memory)",
            remedy="finished work is saved; run the command again, with fewer processes if memory is short",
        ) from error


def libraries() -> dict[str, str]:
    """Return the versions of this program and of what it computes with."""
    names = ("numba", "numpy", "scipy")
    return {
        "version": VERSION,
        "Python": platform.python_version(),
        **{name: version(name) for name in names},
    }


def scheduled(
    client: Any,
    work: Callable[..., Result],
    tasks: Iterable[Task],
    *,
    key: Callable[[Task], str] | None = None,
    **options: Any,
) -> Iterator[list[tuple[Task, Any]]]:
    """Submit tasks to a scheduler, and yield each with its future when it has ended, also with an error.

    Tasks that ended while the caller was processing earlier ones are yielded together, a few at a time.
    The scheduler has only a few tasks per worker at a time, so that results that this program has not fetched
    do not accumulate there. If the generator is closed early, tasks that have not begun are cancelled.

    Parameters
    ----------
    client
        Client of the scheduler.
    work
        Function that does a task.
    tasks
        Taken one by one.
    key
        Returns the key of a task: tasks with equal keys are done once. Without it, equal tasks are repeated.
    options
        Further arguments of `work`.
    """
    from distributed import as_completed  # noqa: PLC0415 - slow, and an extra: found missing before

    left, running = iter(tasks), dict[Any, Task]()
    ended = as_completed(loop=client.loop)  # type: ignore[no-untyped-call]

    def give(most: int) -> None:
        for task in islice(left, most):
            name = None if key is None else key(task)
            future = client.submit(work, task, key=name, pure=False, retries=0, **options)
            running[future] = task
            ended.add(future)  # type: ignore[no-untyped-call]

    try:
        give(max(_LEAST_AHEAD, _AHEAD * len(client.nthreads())))
        while running:
            batch = ended.next_batch()  # type: ignore[no-untyped-call]
            for first in range(0, len(batch), _TOGETHER):
                together = batch[first : first + _TOGETHER]
                found = [(running.pop(future), future) for future in together]
                give(len(together))
                yield found
                for future in together:
                    future.release()
    finally:
        client.cancel([future for future in running if not future.done()])


def has_result(future: Any) -> bool:
    """Say whether a task that has ended has a result, or gets one.

    A result whose worker died before it was fetched is computed again: the task is pending once more, and its
    ``result()`` waits for it.
    """
    return future.status not in {"error", "cancelled", "lost"}


def given_up(future: Any) -> str:
    """Say why a scheduler has no result of a task."""
    return f"the scheduler gave up: {future.exception() or future.status}"


BatchSystem = Literal["slurm", "pbs", "lsf"]
_CLASSES: Final = {"slurm": "SLURMCluster", "pbs": "PBSCluster", "lsf": "LSFCluster"}
_PROGRAMS: Final = {"slurm": ("sbatch", "scancel"), "pbs": ("qsub", "qdel"), "lsf": ("bsub", "bkill")}
_LOOK_S: Final = 0.2
"""Interval at which the state of the jobs is checked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchJob:
    """What a job requests from a batch system.

    Attributes
    ----------
    kind
        Of the batch system.
    queue, account
        Empty for the defaults of the batch system.
    cores, memory_gib, wall_time_s
        Of a job.
    network_interface
        By which jobs and this program reach each other; empty for that of the host name.
    at_once
        Jobs at a time.
    directives
        Further ones, as in a job script after the prefix of the batch system.
    folder
        For the logs of the jobs and their keys; visible to all machines.
    """

    kind: BatchSystem
    queue: str
    account: str
    cores: int
    memory_gib: float
    wall_time_s: float
    at_once: int
    network_interface: str
    directives: tuple[str, ...]
    folder: Path


def _options(job: BatchJob) -> dict[str, Any]:
    """Return the arguments of the library."""
    minutes, seconds = divmod(round(job.wall_time_s), 60)
    hours, minutes = divmod(minutes, 60)
    time_words = f"{hours:02d}:{minutes:02d}"
    memory_mib = round(job.memory_gib * 1024)
    own: dict[str, dict[str, Any]] = {
        "slurm": {
            "walltime": f"{time_words}:{seconds:02d}",
            "job_cpu": job.cores,
            "account": job.account or None,
        },
        "pbs": {
            "walltime": f"{time_words}:{seconds:02d}",
            "resource_spec": f"select=1:ncpus={job.cores}:mem={memory_mib}mb",
            "account": job.account or None,
        },
        "lsf": {"walltime": time_words, "ncpus": job.cores, "project": job.account or None},
    }
    return {
        # The cores are for what the worker starts; it works on one task at a time itself.
        "cores": 1,
        "processes": 1,
        "memory": f"{memory_mib}MiB",
        "queue": job.queue or None,
        "job_name": "correlate",
        "interface": job.network_interface or None,
        "job_extra_directives": list(job.directives),
        "log_directory": str(job.folder),
        "nanny": False,
        # -P: nothing is imported from the working folder.
        "python": f"{shlex.quote(sys.executable)} -P",
        "worker_extra_args": ["--no-dashboard"],
        "scheduler_options": {"dashboard": False, "dashboard_address": "127.0.0.1:0"},
        **own[job.kind],
    }


@contextmanager
def batch_cluster(job: BatchJob) -> Iterator[Any]:
    """Start a cluster of batch jobs; at the end, the jobs are ended."""
    need_extra("scale", what="the engine 'cluster'")
    missing = [program for program in _PROGRAMS[job.kind] if shutil.which(program) is None]
    if missing:
        raise SettingsError(
            f"there is no program '{missing[0]}', which is needed to submit and end jobs with {job.kind}",
            remedy="start this program on a machine that can submit jobs, or correct 'kind' under [cluster]",
        )
    if any(letter.isspace() for letter in str(job.folder)):
        raise SettingsError(
            "the path contains a space, which job scripts do not accept",
            where=str(job.folder),
            remedy="move the project to a path without spaces",
        )
    job.folder.mkdir(parents=True, exist_ok=True)
    before = signal.getsignal(signal.SIGINT)
    library: Any = import_module("dask_jobqueue")
    # The library replaces the handler of Ctrl-C when it is imported.
    signal.signal(signal.SIGINT, before)
    with (
        _keys(job.folder) as security,
        getattr(library, _CLASSES[job.kind])(**_options(job), security=security) as cluster,
    ):
        yield cluster


@contextmanager
def _keys(folder: Path) -> Iterator[Any]:
    """Write keys that only this user can read; without them, others on the cluster could submit work."""
    distributed: Any = import_module("distributed")
    made = distributed.Security.temporary()
    with TemporaryDirectory(prefix="keys-", dir=folder) as place:
        files = {name: Path(place, name) for name in ("ca", "key", "cert")}
        files["ca"].write_text(made.tls_ca_file, encoding="ascii")
        files["key"].write_text(made.tls_worker_key, encoding="ascii")
        files["cert"].write_text(made.tls_worker_cert, encoding="ascii")
        roles = {
            f"tls_{role}_{part}": str(files[part])
            for role in ("client", "scheduler", "worker")
            for part in ("key", "cert")
        }
        yield distributed.Security(tls_ca_file=str(files["ca"]), require_encryption=True, **roles)


def one_task_a_job(
    cluster: Any,
    work: Callable[[Task], Result],
    tasks: Sequence[Task],
    *,
    at_once: int,
    stop: Callable[[], object],
) -> Generator[tuple[Task, Any]]:
    """Give each task its own job, and yield it with its future; one whose job is lost has none.

    If closed early, `stop` is called on the workers of running tasks.
    """
    distributed: Any = import_module("distributed")  # slow, and an extra
    left, running, ended = deque(tasks), dict[Any, tuple[Task, str]](), set[str]()
    # No name is used twice, so that an ended job is distinguished from a new one.
    names = (f"correlate-{number}" for number in count(1))
    with distributed.Client(cluster, set_as_default=False) as client:
        try:
            while left or running:
                wanted = min(at_once, len(left) + len(running))
                # A job is ended before another begins, so that there are never too many.
                workers = cluster.sync(_with_jobs, cluster, wanted, ended, names)
                busy = {name for _, name in running.values()}
                for name in workers.keys() - busy - ended:
                    if left:
                        task = left.popleft()
                        running[client.submit(work, task, workers=[workers[name]], pure=False)] = task, name
                over = [one for one, (_, name) in running.items() if one.done() or name not in workers]
                for future in over:
                    task, name = running.pop(future)
                    ended.add(name)
                    yield task, future if future.done() else None
                    future.release()
                if not over:
                    time.sleep(_LOOK_S)
        finally:
            workers = _present(cluster)
            busy_at = [workers[name] for _, name in running.values() if name in workers]
            if busy_at:
                client.run(stop, workers=busy_at, on_error="ignore")


async def _with_jobs(cluster: Any, wanted: int, ended: Iterable[str], names: Iterator[str]) -> dict[str, str]:
    """End jobs, submit as many as are wanted, and return the addresses of those that have begun, by name."""
    for name in ended:
        cluster.worker_spec.pop(name, None)
    while len(cluster.worker_spec) < wanted:
        cluster.worker_spec[next(names)] = cluster.new_spec
    try:
        await cluster
    except (RuntimeError, ValueError, OSError) as error:
        # Otherwise the library takes a job that was never submitted for one that has not ended.
        for worker in cluster.workers.values():
            if worker.job_id is None:
                worker.status = import_module("distributed.core").Status.failed
        said = str(error).partition("stderr:")[2].strip() or str(error)
        raise SettingsError(
            f"a job could not be submitted: {' '.join(said.split())}",
            remedy="correct [cluster] in the tuning file",
        ) from error
    return _present(cluster)


def _present(cluster: Any) -> dict[str, str]:
    return {worker.name: address for address, worker in dict(cluster.scheduler.workers).items()}

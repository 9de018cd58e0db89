"""Work shared out among workers on this machine, or handed to a Dask scheduler that is there already."""

from __future__ import annotations

import os
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from contextlib import contextmanager
from importlib import import_module
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import TYPE_CHECKING, Any, Final, TypeVar

from correlate.errors import SettingsError
from correlate.interrupt import held_back

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

Task = TypeVar("Task")
Result = TypeVar("Result")

PATIENCE_S: Final = 10
"""How long a scheduler may take to answer. Chosen here."""


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
    """A process that hears nothing of Ctrl-C; who started it ends it."""

    def start(self) -> None:
        with held_back():
            super().start()


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
    """Give workers their tasks, and yield what they finish, in any order."""
    running: dict[Future[Result], tuple[Task, int]] = {}

    def give(worker: int) -> None:
        task = take(worker)
        if task is not None:
            executor, work = workers[worker]
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
            yield task, future.result()


def scheduled(
    client: Any, work: Callable[..., Result], tasks: Sequence[Task], **options: Any
) -> Iterator[tuple[Task, Any]]:
    """Hand tasks to a scheduler, and yield each with its future when it has ended, well or badly.

    Closed early, tasks that have not begun are withdrawn.
    """
    from distributed import as_completed  # noqa: PLC0415 - slow, and an extra: found missing before

    # pure=False: the same task may have to be done again.
    futures = client.map(work, tasks, pure=False, retries=0, **options)
    by_future = dict(zip(futures, tasks, strict=True))
    try:
        for future in as_completed(futures, loop=client.loop):  # type: ignore[no-untyped-call]
            yield by_future[future], future
            future.release()
    finally:
        client.cancel([future for future in futures if not future.done()])


def given_up(future: Any) -> str:
    """Say why a scheduler has no result of a task."""
    return f"the scheduler gave up: {future.exception() or future.status}"

"""Numbered ratings, and a program that writes them: to the end, or until it is killed.

The program reads orders, one JSON object a line, and answers each with a line. It forks a writer for each,
so that Python starts once and not once a writer.
"""

from __future__ import annotations

import hashlib
import json
import os
import select
import signal
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from itertools import count, islice
from typing import TYPE_CHECKING, Any

from correlate.evaluation.record import PairRecord
from correlate.store import RunInfo, open_store

if TYPE_CHECKING:
    from collections.abc import Iterator

RUN = RunInfo(who="build", started=datetime(2031, 4, 5, 6, 7, 8, 9, tzinfo=UTC), campaign_sha256="c0ffee")
BATCH = 25


def sha256(text: str) -> str:
    """Return the hash of a text."""
    return hashlib.sha256(text.encode()).hexdigest()


def numbered_record(number: int) -> PairRecord:
    """Return a record in which every value follows from the number; some inputs and settings are shared."""
    share = number % 101 / 101
    return PairRecord(
        key=sha256(f"rating {number}"),
        campaign="KELP-M",
        release=f"A{number % 3 + 1}",
        load_case=("head-drop", "seat-drop")[number % 2],
        channel=f"channel {number // 6}",
        repeat=f"test {number % 5}",
        overall=share,
        grade=("good", "fair")[number % 2],
        corridor=share**2,
        phase=1 - share,
        magnitude=share / 3,
        slope=share / 7,
        shift_s=(number - 50) * 1e-4,
        samples=1000 + number,
        inputs={"reference": _input("test", number // 6), "candidate": _input("model", number // 5)},
        settings={"conditioning": {"cfc": number % 4 * 60, "window_s": [0.0, 0.1]}, "rating": {"band": 0.1}},
        ingredients={"error sum": number / 3, "warnings": [], "tie": number % 2 == 0},
        version="0.1.0",
    )


def _input(side: str, number: int) -> dict[str, Any]:
    return {
        "file": f"{side}/{number}.csv",
        "sha256": sha256(f"{side} {number}"),
        "channel": "Δ ax",
        "unit": "g",
        "history": [{"name": "read", "settings": {}}, {"name": "filter", "settings": {"cfc": number}}],
    }


class Writer:
    """The program, from outside.

    Parameters
    ----------
    program
        With open pipes.
    """

    def __init__(self, program: subprocess.Popen[str]) -> None:
        self._program = program

    def order(self, **order: Any) -> None:
        """Send an order.

        That is an ``address``, perhaps ``who`` runs it, and either the ``numbers`` to write, or the ``first``
        of endless ones and when to ``kill`` the writer: ``after_batches`` kept ones, ``and_s`` seconds more.
        """
        assert self._program.stdin is not None
        self._program.stdin.write(json.dumps(order) + "\n")
        self._program.stdin.flush()

    def answer(self) -> dict[str, Any]:
        """Wait for the answer: how the writer ended, and how many batches it had kept by then."""
        assert self._program.stdout is not None
        answer: dict[str, Any] = json.loads(self._program.stdout.readline())
        return answer


@contextmanager
def writer_program() -> Iterator[Writer]:
    """Run the program until the end of the block."""
    command = [sys.executable, __file__]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as program:
        yield Writer(program)
        assert program.stdin is not None
        program.stdin.close()
        assert program.wait() == 0


def main() -> None:
    """Follow orders until there are no more."""
    import psycopg  # noqa: F401, PLC0415 - loaded once, before the forks

    for line in sys.stdin:
        print(json.dumps(_follow(json.loads(line))), flush=True)  # noqa: T201 - the answer


def _follow(order: dict[str, Any]) -> dict[str, Any]:
    reading_end, writing_end = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading_end)
        _write(order, writing_end)
    os.close(writing_end)
    kept = 0
    if "kill" in order:
        kept = len(_exactly(reading_end, order["kill"]["after_batches"]))
        # The moment is the point of it: the writer is somewhere, and does not get to tidy up.
        select.select([], [], [], order["kill"]["and_s"])
        os.kill(child, signal.SIGKILL)
    with os.fdopen(reading_end, "rb") as progress:
        kept += len(progress.read())
    _, status = os.waitpid(child, 0)
    return {"exit": os.waitstatus_to_exitcode(status), "kept": kept}


def _exactly(reading_end: int, size: int) -> bytes:
    read = b""
    while len(read) < size:
        more = os.read(reading_end, size - len(read))
        assert more, "the writer ended before its time"
        read += more
    return read


def _write(order: dict[str, Any], progress: int) -> None:
    """Keep batch after batch in the forked process, one byte of progress each, and never return."""
    status = 1
    try:
        numbers = iter(order["numbers"] if "numbers" in order else count(order["first"]))
        run = replace(RUN, who=order.get("who", RUN.who))
        with open_store(order["address"]) as store:
            while batch := list(islice(numbers, BATCH)):
                store.keep(map(numbered_record, batch), run=run)
                os.write(progress, b".")
        status = 0
    finally:
        os._exit(status)


if __name__ == "__main__":
    main()

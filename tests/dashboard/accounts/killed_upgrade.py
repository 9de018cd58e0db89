"""A program that opens accounts databases in processes that are killed at a given statement.

It reads orders, one JSON object a line: the ``place``, and ``statements`` after which the process is killed.
It answers each with how that process ended. It forks, so that Python starts once.
"""

from __future__ import annotations

import json
import os
import signal
import sys

from sqlalchemy import Engine, event

from dashboard.accounts import open_accounts


def main() -> None:
    """Follow orders until there are no more."""
    # Loaded once, before the forks.
    import alembic.operations  # noqa: PLC0415
    import alembic.runtime.migration  # noqa: PLC0415
    import alembic.script  # noqa: F401, PLC0415
    import psycopg  # noqa: F401, PLC0415

    for line in sys.stdin:
        order = json.loads(line)
        child = os.fork()
        if child == 0:
            _open(order["place"], order["statements"])
        _, status = os.waitpid(child, 0)
        print(os.waitstatus_to_exitcode(status), flush=True)  # noqa: T201 - the answer


def _open(place: str, statements: int) -> None:
    """Open a database in the forked process, and never return."""
    done = 0

    def count(*_: object) -> None:
        nonlocal done
        done += 1
        if done == statements:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(Engine, "after_cursor_execute", count)
    status = 1
    try:
        open_accounts(place).dispose()
        status = 0
    finally:
        os._exit(status)


if __name__ == "__main__":
    main()

"""Counts the steps by which a command changes files and databases, and strikes before one of them.

A step is whatever opens a file for writing, makes, renames or removes one, or is a statement of a database.
The program under test has nothing to do with it: Python reports these events to a hook (`sys.addaudithook`),
SQLite to a trace, and SQLAlchemy what it sends to PostgreSQL.
"""

from __future__ import annotations

import errno
import os
import resource
import signal
import sqlite3
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.faults.program import Order

_CHANGES: Final = frozenset(
    {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod"}
)
_MAKES: Final = frozenset({"open", "os.rename", "os.mkdir", "os.link", "os.symlink"})
"""What a full disk refuses."""
_WRITES: Final = os.O_WRONLY | os.O_RDWR | os.O_CREAT


class Steps:
    """The steps of this process, and what happens before one of them.

    Parameters
    ----------
    order
        Its ``fault`` is ``kill`` or ``kill group``, ``full disk`` (this step and all later ones are refused),
        or ``lost connection`` (the server ends the connection before this statement).
    """

    def __init__(self, order: Order) -> None:
        self.count = 0
        self._folder = f"{Path(order.folder).resolve()}{os.sep}"
        self._fault, self._at = order.fault, order.at_step

    def hook(self, event: str, arguments: tuple[Any, ...]) -> None:
        """Hear of everything that Python does."""
        if (event in _CHANGES or (event == "open" and arguments[2] & _WRITES)) and self._inside(arguments):
            self._step(event, arguments)

    def before_statement(self, connection: Any, *_: Any) -> None:
        """Hear of a statement that is sent to a server."""
        if connection.dialect.name == "postgresql":
            self.count += 1
            if self.count == self._at and self._fault == "lost connection":
                _end_connection(connection)
            elif self.count == self._at:
                self._kill()

    def before_commit(self, connection: Any) -> None:
        """Hear of the end of a transaction on a server."""
        self.before_statement(connection)

    def _inside(self, arguments: tuple[Any, ...]) -> bool:
        """Say whether a path lies in the folder of the command; a relative one does."""
        path = arguments[0]
        if not isinstance(path, str | os.PathLike):
            return False
        name = os.fspath(path)
        return isinstance(name, str) and (not name.startswith(os.sep) or name.startswith(self._folder))

    def traced(self, connect: Callable[..., sqlite3.Connection]) -> Callable[..., sqlite3.Connection]:
        """Return a function that connects to SQLite and hears of every statement."""

        def connected(*where: Any, **how: Any) -> sqlite3.Connection:
            connection = connect(*where, **how)
            connection.set_trace_callback(lambda _: self._step("statement", ()))
            return connection

        return connected

    def _step(self, event: str, arguments: tuple[Any, ...]) -> None:
        self.count += 1
        if not self._at or self.count < self._at:
            return
        if self._fault == "full disk" and event in _MAKES:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), os.fspath(arguments[0]))
        if self.count == self._at:
            self._kill()

    def _kill(self) -> None:
        if self._fault == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        elif self._fault == "kill group":
            os.killpg(0, signal.SIGKILL)


def watch(order: Order) -> Callable[[], int]:
    """Count steps from now on; return a function that says how many there were."""
    from sqlalchemy import Engine, event  # noqa: PLC0415 - loaded by the program before

    steps = Steps(order)
    event.listen(Engine, "before_cursor_execute", steps.before_statement)
    event.listen(Engine, "commit", steps.before_commit)
    if order.largest_file:
        resource.setrlimit(resource.RLIMIT_FSIZE, (order.largest_file, order.largest_file))
    for module in (sqlite3, sqlite3.dbapi2):
        module.connect = steps.traced(module.connect)  # type: ignore[attr-defined]
    sys.addaudithook(steps.hook)
    return lambda: steps.count


def _end_connection(connection: Any) -> None:
    """Let the server end a connection, as one does that is stopped."""
    import psycopg  # noqa: PLC0415

    number = connection.connection.dbapi_connection.info.backend_pid
    url = connection.engine.url.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(url, autocommit=True) as other:
        other.execute("SELECT pg_terminate_backend(%s, 5000)", (number,))

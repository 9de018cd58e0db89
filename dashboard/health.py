"""Whether a server works, for monitoring: ``/health``, answered without signing in.

The answer holds no path, name, address or message of a database; the reason is in the server log.
"""

from __future__ import annotations

import json
import logging
import shutil
import threading
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

from flask import Response

from correlate import CorrelateError, may_write
from dashboard import paths
from dashboard.access.gate import HEALTH

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from dash import Dash

    from dashboard.jobs.table import Activity

Status = Literal["ok", "degraded", "down"]
"""``degraded``: pages are shown, but something does not work; ``down``: the server cannot be used."""

KEPT_S: Final = 2.0
"""For which an answer is given again, so that many who ask cost no more than one."""

PATIENCE_S: Final = 1.5
"""After which a part counts as one that does not answer."""

SILENT_S: Final = 20.0
"""Without a heartbeat of a worker, which gives one every five seconds."""

LITTLE_BYTES: Final = 10**9
"""Free space below which a disk is said to be nearly full. Chosen here."""

_RANK: Final[dict[Status, int]] = {"ok": 0, "degraded": 1, "down": 2}
_WORDS: Final[dict[Status, str]] = {
    "ok": "everything works",
    "degraded": "pages are shown, but not everything works",
    "down": "the server cannot be used",
}
_LOG: Final = logging.getLogger("dashboard.health")

Part = dict[str, Any]
"""``status``, ``words``, and figures."""


def part(status: Status, words: str, **figures: Any) -> Part:
    """Return how a part of the server is."""
    return {"status": status, "words": words, **figures}


def worker_part(activity: Activity) -> Part:
    """Say how the worker of the jobs is."""
    figures = {
        "heartbeat_age_s": None if activity.silent_s is None else round(activity.silent_s, 1),
        "running": activity.running,
        "waiting": activity.waiting,
    }
    if activity.silent_s is None:
        return part("degraded", "no worker is running", **figures)
    if activity.silent_s > SILENT_S:
        return part("degraded", "the worker has stopped or does not respond", **figures)
    return part("ok", "the worker is running", **figures)


def database_part(read: Callable[[], object]) -> Part:
    """Say that a database can be read; ``read`` raises CorrelateError where it cannot."""
    read()
    return part("ok", "can be read")


def disk_part(folders: Iterable[Path]) -> Part:
    """Say whether the server can write, and whether there is space, in words instead of figures."""
    kept = [*folders]
    writable = all(may_write(folder) for folder in kept)
    least = min(shutil.disk_usage(folder).free for folder in kept)
    free = "none" if least < LITTLE_BYTES // 100 else "little" if least < LITTLE_BYTES else "enough"
    figures = {"free": free, "writable": writable}
    if not writable:
        return part("degraded", "a folder of the server is not writable", **figures)
    if free != "enough":
        return part("degraded", "the disk is full or nearly full", **figures)
    return part("ok", "can be written and has space", **figures)


@dataclass(slots=True)
class _Asked:
    """A part that is checked in a thread of its own, so that a hanging part does not delay the answer."""

    name: str
    ask: Callable[[], Part]
    grave: Status
    _thread: threading.Thread | None = None
    _found: Part | None = None
    _said: str = ""

    def begin(self) -> None:
        """Ask, unless the last question is still open."""
        if self._thread is None or not self._thread.is_alive():
            self._found = None
            self._thread = threading.Thread(target=self._answer, daemon=True)
            self._thread.start()

    def found(self, until: float) -> Part:
        """Return the answer, or that there is none in time."""
        assert self._thread is not None  # noqa: S101 - asked before
        self._thread.join(max(0.0, until - time.monotonic()))
        return self._found or part(self.grave, "does not answer")

    def _answer(self) -> None:
        try:
            self._found = self.ask()
            self._said = ""
        except (CorrelateError, OSError) as error:
            self._found = part(self.grave, "cannot be used")
            if self._said != str(error):
                self._said = str(error)
                _LOG.error("%s: %s", self.name, error)


@dataclass(slots=True)
class Health:
    """How a server is, put together from its parts.

    Attributes
    ----------
    parts
        By name: the function that says how it is, and how grave it is where that raises or does not return.
    """

    parts: Mapping[str, tuple[Callable[[], Part], Status]]
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _asked: list[_Asked] = field(default_factory=list)
    _last: dict[str, Any] | None = None
    _last_at: float = 0.0

    def state(self) -> dict[str, Any]:
        """Return the state of the server and its parts, at most two seconds old."""
        with self._lock:
            if self._last is None or time.monotonic() - self._last_at > KEPT_S:
                self._last = self._found()
                self._last_at = time.monotonic()
            return self._last

    def _found(self) -> dict[str, Any]:
        if not self._asked:
            self._asked = [_Asked(name, *told) for name, told in self.parts.items()]
        for one in self._asked:
            one.begin()
        until = time.monotonic() + PATIENCE_S
        found = {one.name: one.found(until) for one in self._asked}
        worst: Status = max((one["status"] for one in found.values()), key=_RANK.__getitem__)
        return {"status": worst, "words": _WORDS[worst], **found}


def offer_health(app: Dash, health: Health) -> None:
    """Answer ``/health`` to everybody: 503 if the server cannot be used, otherwise 200."""

    def answer() -> tuple[Response, int]:
        state = health.state()
        answer = Response(json.dumps(state), mimetype="application/json")
        return answer, 503 if state["status"] == "down" else 200

    # Outside of `permitted`: there is no account behind the request.
    app.server.add_url_rule(paths.HEALTH, HEALTH, answer)

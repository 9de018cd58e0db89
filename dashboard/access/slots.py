"""Expensive requests: how many may be computed at a time, and how many may wait."""

from __future__ import annotations

import os
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Condition
from typing import TYPE_CHECKING, Final

from flask import current_app, g, has_request_context
from werkzeug.exceptions import TooManyRequests

if TYPE_CHECKING:
    from collections.abc import Iterator

    from dash import Dash

_SLOTS: Final = "correlate-slots"
_TAKEN: Final = "slot"

RETRY_S: Final = 2
"""After which a page asks again."""

BUSY: Final = "The server is busy. Try again in a moment."


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotLimits:
    """How many expensive requests there may be.

    Attributes
    ----------
    at_once
        Computed at a time, of all accounts.
    per_account
        Of them for one account.
    waiting
        Requests that wait; each of them occupies a thread of the web server.
    waiting_per_account
        Of them for one account.
    longest_wait_s
        After which a waiting request is refused.
    """

    at_once: int = 2
    per_account: int = 2
    waiting: int = 3
    waiting_per_account: int = 2
    longest_wait_s: float = 10

    @classmethod
    def for_threads(cls, threads: int) -> SlotLimits:
        """Return the limits that leave at least three of eight threads to quick requests.

        Examples
        --------
        >>> limits = SlotLimits.for_threads(1)
        >>> limits.at_once, limits.waiting
        (1, 0)
        """
        at_once = max(1, min(threads // 2, max(2, os.cpu_count() or 1)))
        return cls(at_once=at_once, waiting=max(0, min(threads - at_once - 3, 2 * at_once)))


class Busy(Exception):  # noqa: N818 - it is no mistake
    """All slots for expensive requests are taken, and no more requests may wait."""


class Slots:
    """Gives slots in the order of arrival, but passes over accounts that have theirs already."""

    def __init__(self, limits: SlotLimits) -> None:
        self.limits = limits
        self._changed = Condition()
        self._running: Counter[str] = Counter()
        self._waiting: list[_Ticket] = []

    @contextmanager
    def taken(self, account: str) -> Iterator[None]:
        """Hold a slot; raises `Busy` where there is none in time."""
        self._take(account)
        try:
            yield
        finally:
            with self._changed:
                self._running[account] -= 1
                self._running += Counter()
                self._changed.notify_all()

    @property
    def waiting(self) -> int:
        """Requests that wait at present."""
        with self._changed:
            return len(self._waiting)

    def _take(self, account: str) -> None:
        ticket = _Ticket(account)
        with self._changed:
            self._waiting.append(ticket)
            try:
                if self._next() is not ticket:
                    self._see_that_it_may_wait(account)
                    if not self._changed.wait_for(lambda: self._next() is ticket, self.limits.longest_wait_s):
                        raise Busy
                self._running[account] += 1
            finally:
                self._waiting.remove(ticket)
                # The request behind this one may be the next.
                self._changed.notify_all()

    def _see_that_it_may_wait(self, account: str) -> None:
        limits, own = self.limits, sum(one.account == account for one in self._waiting)
        # This request is among those that wait already.
        if len(self._waiting) > limits.waiting or own > limits.waiting_per_account:
            raise Busy

    def _next(self) -> _Ticket | None:
        """Return the first that waits and whose account has a slot left."""
        if self._running.total() >= self.limits.at_once:
            return None
        most = self.limits.per_account
        return next((one for one in self._waiting if self._running[one.account] < most), None)


@dataclass(frozen=True, slots=True, eq=False)
class _Ticket:
    """One request that waits."""

    account: str


def limit_expensive(app: Dash, limits: SlotLimits) -> None:
    """Limit the expensive requests of an application from now on."""
    extensions = app.server.extensions
    if _SLOTS not in extensions:
        app.server.teardown_request(_give_back)
    extensions[_SLOTS] = Slots(limits)


def take_slot(account: str) -> None:
    """Hold a slot until the request is answered; refuse the request where there is none."""
    slots: Slots | None = current_app.extensions.get(_SLOTS) if has_request_context() else None
    if slots is None or g.get(_TAKEN) is not None:
        return
    held = slots.taken(account)
    try:
        held.__enter__()
    except Busy:
        raise TooManyRequests(BUSY, retry_after=RETRY_S) from None
    setattr(g, _TAKEN, held)


def _give_back(_: BaseException | None) -> None:
    held = g.pop(_TAKEN, None)
    if held is not None:
        held.__exit__(None, None, None)

"""Visitors of a server: each signs in, opens pages as a browser does, reads, and opens the next one."""

from __future__ import annotations

import json
import random
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from dashboard import ids, paths
from dashboard.components import pair_ids
from tests.dashboard.served import body_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from threading import Event

    from dash import Dash

    from tests.load.real_server import Client

BUSY: Final = 429
DONE: Final = frozenset({200, 204, 303, 304})

LONGEST_BUSY_S: Final = 120
"""After which a page gives up asking again, as `assets/busy.js` does."""

PAGES: Final[Mapping[str, tuple[int, tuple[str, ...]]]] = {
    paths.DECISION: (4, ("..decision-address.search...decision-release.data",)),
    paths.SCOREBOARD: (3, ("..scoreboard-address.search",)),
    paths.MATRIX: (2, ("..matrix-address.search",)),
    paths.PAIR: (4, ("..pair-address.search",)),
    paths.REPEATS: (2, ("..repeats-address.search", "repeats-cross.children")),
    paths.DATA: (1, ("..data-heading.hidden", "..data-health.children")),
    paths.DUMMIES: (1, ("..dummies-address.search",)),
}
"""How often each page is opened, and how the keys begin of the callbacks that fill it."""

AFTER_PAIR: Final = (pair_ids.SCATTER, pair_ids.REASONS, pair_ids.FINDINGS)
"""Parts of the Pair page that follow its curves."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One request and what became of it.

    Attributes
    ----------
    kind
        ``document``, ``quick`` or ``expensive``.
    seconds
        Until its answer, with all waiting for a busy server.
    status
        Of the last answer; 0 where the connection failed.
    refusals
        Answers before it that said the server is busy.
    """

    kind: str
    seconds: float
    status: int
    refusals: int


@dataclass(frozen=True, slots=True)
class Script:
    """What browsers send for the pages of an application.

    Attributes
    ----------
    frame
        The callback around the pages.
    pages
        The callbacks of each page, by path.
    after_pair
        Those that follow the curves.
    """

    frame: dict[str, Any]
    pages: dict[str, list[dict[str, Any]]]
    after_pair: list[dict[str, Any]]


def script_of(app: Dash) -> Script:
    """Prepare what browsers send."""

    def body(beginning: str, path: str) -> dict[str, Any]:
        key = next(key for key in app.callback_map if key.startswith(beginning))
        found = body_of(app, key)
        return found | {part: _filled(found[part], path) for part in ("inputs", "state")}

    return Script(
        frame=body(f"..{ids.CONTENT}.children", ""),
        pages={path: [body(one, path) for one in begins] for path, (_, begins) in PAGES.items()},
        after_pair=[body(f"{part}.children", "") for part in AFTER_PAIR],
    )


def _filled(given: Any, path: str) -> Any:
    """Return inputs of a callback with the address of the page in place of nothing."""
    if isinstance(given, list):
        return [_filled(one, path) for one in given]
    values = {"pathname": path, "search": ""}
    value = "light" if given["id"] == ids.THEME else values.get(given["property"], given["value"])
    return given | {"value": value}


@dataclass(slots=True)
class Visitor:
    """One visitor; `visit` runs in a thread of its own.

    Attributes
    ----------
    client
        Its browser.
    name
        Of its account.
    script
        What its pages send.
    think_s
        Mean time for which it looks at a page.
    ended
        Set when it is time to go.
    sent
        What it has sent.
    failures
        Sentences about what failed.
    """

    client: Client
    name: str
    script: Script
    think_s: float
    ended: Event
    sent: list[Sent] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)

    def visit(self, begin_s: float, seed: int) -> None:
        """Sign in after a while and open pages until it is time to go."""
        chance = random.Random(seed)  # noqa: S311 - not for secrets
        if self.ended.wait(begin_s):
            return
        self._do("document", lambda: self.client.sign_in(self.name))
        for path in ("/", "/_dash-layout", "/_dash-dependencies"):
            self._do("document", lambda path=path: self.client.ask("GET", path))  # type: ignore[misc]
        while not self.ended.is_set():
            self._open(chance.choices(list(PAGES), [share for share, _ in PAGES.values()])[0])
            self.ended.wait(chance.uniform(0.5, 1.5) * self.think_s)
        self.client.close()

    def _open(self, path: str) -> None:
        frame = self.script.frame
        self._call("quick", frame | {"inputs": _filled(frame["inputs"], path)})
        answers = [self._call("expensive", body) for body in self.script.pages[path]]
        if path != paths.PAIR or not answers[0]:
            return
        shown = json.loads(answers[0])["response"][pair_ids.SHOWN]["data"]
        for body in self.script.after_pair:
            self._call("expensive", body | {"inputs": [one | {"value": shown} for one in body["inputs"]]})

    def _call(self, kind: str, body: dict[str, Any]) -> bytes:
        return self._do(kind, lambda: self.client.call(body))

    def _do(self, kind: str, ask: Callable[[], Any]) -> bytes:
        begin, refusals = time.perf_counter(), 0
        if self.ended.is_set():
            return b""
        while True:
            try:
                answer = ask()
            except OSError as error:
                self.sent.append(Sent(kind, time.perf_counter() - begin, 0, refusals))
                self.failures.append(f"{kind}: {error!r}")
                return b""
            if answer.status != BUSY or time.perf_counter() - begin > LONGEST_BUSY_S:
                break
            refusals += 1
            if self.ended.wait(float(answer.headers["retry-after"]) * random.uniform(0.5, 1.5)):  # noqa: S311
                return b""
        self.sent.append(Sent(kind, time.perf_counter() - begin, answer.status, refusals))
        if answer.status not in DONE:
            self.failures.append(f"{kind}: status {answer.status}, {answer.body[:200]!r}")
        return bytes(answer.body) if answer.status == 200 else b""


def percentile(values: Sequence[float], share: float) -> float:
    """Return the value that a share of others does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else float("nan")

"""Slots of expensive requests: how many are computed at a time, who waits, and who is refused."""

from __future__ import annotations

import time
from contextlib import contextmanager
from threading import Event, Thread
from typing import TYPE_CHECKING

import pytest
from dash import Dash, Input, Output, html

from dashboard.access import Role, expensive, permitted
from dashboard.access.slots import Busy, SlotLimits, Slots, limit_expensive
from dashboard.headers import protect
from tests.dashboard.served import body_of, call, page_token, sign_in, with_accounts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

LONGEST_S = 20


def until(condition: Callable[[], bool]) -> None:
    """Wait for a condition with a deadline."""
    end = time.monotonic() + LONGEST_S
    while not condition():
        assert time.monotonic() < end, "it did not happen in time"
        Event().wait(0.005)


@contextmanager
def request_under_way(slots: Slots, account: str, order: list[str] | None = None) -> Iterator[Event]:
    """Hold a slot in another thread until the event is set."""
    finish, began = Event(), Event()

    def compute() -> None:
        began.set()
        with slots.taken(account):
            if order is not None:
                order.append(account)
            assert finish.wait(LONGEST_S)

    thread = Thread(target=compute)
    thread.start()
    assert began.wait(LONGEST_S)
    try:
        yield finish
    finally:
        finish.set()
        thread.join(LONGEST_S)


def test_the_third_of_an_account_waits_and_another_account_does_not() -> None:
    """Two at a time for one account, though there is room for more."""
    slots = Slots(SlotLimits(at_once=3, per_account=2))
    order: list[str] = []
    with (
        request_under_way(slots, "one", order) as first,
        request_under_way(slots, "one", order),
        request_under_way(slots, "one", order),
    ):
        until(lambda: slots.waiting == 1)
        with slots.taken("other"):
            assert order == ["one", "one"]
        assert slots.waiting == 1
        first.set()
        until(lambda: order == ["one"] * 3)


def test_who_came_first_goes_first() -> None:
    """Of different accounts, in the order of their arrival."""
    slots, order = Slots(SlotLimits(at_once=1)), list[str]()
    with request_under_way(slots, "zero") as zero, request_under_way(slots, "one", order) as one:
        until(lambda: slots.waiting == 1)
        with request_under_way(slots, "two", order):
            until(lambda: slots.waiting == 2)
            zero.set()
            until(lambda: order == ["one"])
            one.set()
            until(lambda: order == ["one", "two"])


def test_there_is_no_endless_queue() -> None:
    """What finds no place to wait is refused at once; so is what has waited too long."""
    slots = Slots(SlotLimits(at_once=1, waiting=2, waiting_per_account=1, longest_wait_s=LONGEST_S))
    with (
        request_under_way(slots, "zero") as zero,
        request_under_way(slots, "one") as one,
        request_under_way(slots, "two") as two,
    ):
        until(lambda: slots.waiting == 2)
        for account in ("one", "three"):
            with pytest.raises(Busy), slots.taken(account):
                pass
        assert slots.waiting == 2
        for finish in (zero, one, two):
            finish.set()
    impatient = Slots(SlotLimits(at_once=1, longest_wait_s=0.01))
    with request_under_way(impatient, "zero"), pytest.raises(Busy), impatient.taken("one"):
        pass
    with impatient.taken("one"):
        pass


@pytest.mark.parametrize("threads", range(1, 65))
def test_threads_are_left_for_quick_requests(threads: int) -> None:
    """Running and waiting requests never occupy all threads, where there are more than one."""
    limits = SlotLimits.for_threads(threads)
    assert limits.at_once >= 1
    assert limits.at_once + limits.waiting <= max(1, threads - 1)
    if threads >= 8:
        assert limits.at_once + limits.waiting <= threads - 3


def test_a_server_answers_others_and_tells_the_page_to_ask_again(tmp_path: Path) -> None:
    """While two are computed a third gets 429 with words, and a quick callback its answer."""
    app, go, began = Dash("dashboard", enable_mcp=False), Event(), list[int]()
    app.layout = html.Div([html.Button(id="press"), html.Div(id="slow"), html.Div(id="quick")])

    @expensive
    def compute(_: object) -> str:
        began.append(1)
        assert go.wait(LONGEST_S)
        return "computed"

    with permitted(app, Role.VIEWER):
        app.callback(Output("slow", "children"), Input("press", "n_clicks"))(compute)
        app.callback(Output("quick", "children"), Input("press", "n_clicks"))(lambda _: "at once")
    protect(app)
    with_accounts(app, tmp_path)
    limit_expensive(app, SlotLimits(at_once=2, waiting=0))
    clients = {name: app.server.test_client() for name in ("viewer", "analyst")}
    for name, client in clients.items():
        sign_in(client, name)
    tokens = {name: page_token(client) for name, client in clients.items()}
    viewer = clients["viewer"]
    slow, quick = body_of(app, "slow.children"), body_of(app, "quick.children")
    got: list[int] = []

    def ask(name: str) -> None:
        got.append(call(clients[name], slow, tokens[name]).status_code)

    threads = [Thread(target=ask, args=(name,)) for name in clients]
    for thread in threads:
        thread.start()
    until(lambda: len(began) == 2)
    refused = call(viewer, slow, tokens["viewer"])
    assert refused.status_code == 429
    assert int(refused.headers["Retry-After"]) > 0
    assert "The server is busy" in refused.text
    assert "at once" in call(viewer, quick, tokens["viewer"]).text
    go.set()
    for thread in threads:
        thread.join(LONGEST_S)
    assert got == [200, 200]
    assert "computed" in call(viewer, slow, tokens["viewer"]).text

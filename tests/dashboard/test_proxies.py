"""Proxies in front that are not those of the settings: one warning, in the log and on the audit trail."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

import pytest
from flask import Flask
from werkzeug.middleware.proxy_fix import ProxyFix

from dashboard.proxies import proxy_warnings, watch_proxies
from dashboard.server_settings import load_settings
from dashboard.serving import server_app
from tests.dashboard.test_serving import settings_file

if TYPE_CHECKING:
    from pathlib import Path


def warnings_after(proxies: int, *sent: dict[str, str], path: str = "/") -> list[str]:
    """Return the warnings of a server after requests with some headers."""
    server = Flask("watched")
    server.add_url_rule("/", "page", lambda: "")
    if proxies:
        # As on a real server: this layer takes the headers away.
        server.wsgi_app = ProxyFix(server.wsgi_app, x_for=proxies)  # type: ignore[method-assign]
    watch_proxies(server, proxies)
    for headers in sent:
        server.test_client().get(path, headers=headers)
    with server.app_context():
        return list(proxy_warnings())


@pytest.mark.parametrize("header", ["X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Host", "Forwarded"])
def test_a_proxy_that_is_not_in_the_settings(header: str, caplog: pytest.LogCaptureFixture) -> None:
    """The key is named, once, however many requests come."""
    with caplog.at_level(logging.WARNING):
        (said,) = warnings_after(0, {header: "192.0.2.9"}, {header: "192.0.2.9"})
    assert "public.proxies is 0" in said
    assert [record.getMessage() for record in caplog.records] == [said]


@pytest.mark.parametrize(
    ("proxies", "headers", "count"),
    [(1, {}, 0), (2, {"X-Forwarded-For": "192.0.2.9"}, 1)],
)
def test_a_proxy_of_the_settings_that_is_not_there(proxies: int, headers: dict[str, str], count: int) -> None:
    """Fewer addresses than proxies are a warning, too."""
    (said,) = warnings_after(proxies, headers)
    assert f"with {count} forwarded addresses" in said
    assert f"public.proxies is {proxies}" in said


@pytest.mark.parametrize(
    ("proxies", "headers"),
    [(0, {}), (1, {"X-Forwarded-For": "192.0.2.9"}), (1, {"X-Forwarded-For": "198.51.100.1, 192.0.2.9"})],
)
def test_what_fits_is_no_warning(proxies: int, headers: dict[str, str]) -> None:
    """Neither without a proxy, nor with one, nor with an address that a browser made up before it."""
    assert warnings_after(proxies, headers) == []


def test_monitoring_past_the_proxy_is_no_warning() -> None:
    """It asks from the machine itself."""
    assert warnings_after(1, {}, path="/health") == []


def test_a_real_server_watches_what_arrives(folder: Path, tmp_path: Path) -> None:
    """Before the layer that believes the headers takes them away; a wrong header is seen."""
    app = server_app(load_settings(settings_file(folder, tmp_path, proxies=1)))
    app.server.test_client().get("/sign-in", base_url="https://ratings.example")
    with app.server.app_context():
        (said,) = proxy_warnings()
    assert "public.proxies is 1" in said

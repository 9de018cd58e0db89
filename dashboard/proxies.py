"""Checks whether the reverse proxies in front match the settings, and warns once if they do not.

With too few in the settings, the audit trail records the address of the proxy for every user, and all sign-in
attempts count for that address. With too many, users may reach the server past a proxy.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Any, Final

from flask import current_app

from dashboard import paths

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from flask import Flask

_WARNINGS: Final = "correlate-proxy-warnings"
_HEADERS: Final = (
    "HTTP_X_FORWARDED_FOR",
    "HTTP_X_FORWARDED_HOST",
    "HTTP_X_FORWARDED_PROTO",
    "HTTP_FORWARDED",
)
_log = logging.getLogger(__name__)


class ProxyWatch:
    """Looks at the forwarded headers of requests as they arrive, and warns once of either difference.

    Parameters
    ----------
    application
        Answers the requests; the next layer may replace what is looked at here.
    proxies
        As in the settings.
    """

    def __init__(self, application: Callable[..., Iterable[bytes]], proxies: int) -> None:
        self._application = application
        self._proxies = proxies
        self.warnings: list[str] = []

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        """Answer a request."""
        # Monitoring asks from this machine, past the proxy.
        if not self.warnings and environ.get("PATH_INFO") != paths.HEALTH and (words := self._wrong(environ)):
            self.warnings.append(words)
            _log.warning(words)
        return self._application(environ, start_response)

    def _wrong(self, environ: dict[str, Any]) -> str:
        """Return what is wrong with the headers of a request; empty where they are as expected."""
        if self._proxies == 0:
            if not any(name in environ for name in _HEADERS):
                return ""
            return (
                "A request arrived with forwarded headers (X-Forwarded-* or Forwarded), but public.proxies "
                "is 0: if a reverse proxy is in front, all users appear under its address; set "
                "public.proxies to the number of proxies."
            )
        given = environ.get("HTTP_X_FORWARDED_FOR", "")
        count = len(given.split(",")) if given else 0
        if count >= self._proxies:
            return ""
        return (
            f"A request arrived with {count} forwarded addresses (X-Forwarded-For), but public.proxies is "
            f"{self._proxies}: it did not pass all proxies, or they do not set this header; correct "
            "public.proxies or the settings of the proxy."
        )


def watch_proxies(server: Flask, proxies: int) -> None:
    """Watch the requests of a server; called after the layer that applies the headers has been added."""
    watch = ProxyWatch(server.wsgi_app, proxies)
    server.wsgi_app = watch  # type: ignore[method-assign]  # as flask advises
    server.extensions[_WARNINGS] = watch.warnings


def proxy_warnings() -> list[str]:
    """Return the warnings so far of the server that answers."""
    found: list[str] = current_app.extensions.get(_WARNINGS, [])
    return found

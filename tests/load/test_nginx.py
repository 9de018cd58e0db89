"""The reverse proxy of the documentation, run with the real nginx in front of the real server."""

from __future__ import annotations

import socket
from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING, Any
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest

from dashboard.accounts import AuditTrail, open_accounts
from tests.dashboard.project import write_project
from tests.load.nginx import nginx
from tests.load.real_server import HOST, Client, real_server

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.load.nginx import Proxy


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the server behind the proxy."""
    return tmp_path_factory.mktemp("server")


@pytest.fixture(scope="module")
def proxy(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxy]:
    """Serve the small project through the proxy, which waits a second for a header."""
    project = write_project(tmp_path_factory.mktemp("small"))
    with (
        real_server(project, folder, proxies=1) as server,
        nginx(
            tmp_path_factory.mktemp("nginx"),
            server.port,
            {"client_header_timeout 15s": "client_header_timeout 1s"},
        ) as running,
    ):
        yield running


def browser(proxy: Proxy, source: str = "127.0.0.1") -> Client:
    """Return a client that believes the certificate of the proxy."""
    return Client(proxy.port, source=source, trust=proxy.trust)


def test_people_sign_in_and_open_pages(proxy: Proxy, folder: Path) -> None:
    """Over HTTPS from then on; the trail has their address, whatever they say it is."""
    with browser(proxy, "127.0.0.3") as client:
        forged = {"X-Forwarded-For": "198.51.100.7", "X-Forwarded-Host": "elsewhere.example"}
        assert client.ask("GET", "/sign-in", headers=forged).status == 200
        assert client.sign_in("viewer").status == 303
        page = client.ask("GET", "/", headers=forged | {"Accept-Encoding": "gzip"})
        assert page.status == 200
        assert page.headers["strict-transport-security"] == "max-age=31536000"
        assert "content-encoding" not in page.headers
        assert client.ask("GET", "/_dash-layout").status == 200
    (last,) = AuditTrail(open_accounts(str(folder / "accounts.sqlite"))).last(1)
    assert (last.who, last.what, last.address) == ("viewer", "signed in", "127.0.0.3")


def test_http_leads_to_https(proxy: Proxy) -> None:
    """With path and query."""
    with Client(proxy.plain_port) as client:
        answer = client.ask("GET", "/pair?release=A1")
    assert (answer.status, answer.headers["location"]) == (301, f"https://{HOST}/pair?release=A1")


@pytest.mark.parametrize(
    ("path", "size"),
    [("/sign-in", 30_000), ("/account", 3_000_000), ("/_dash-update-component", 150_000_000)],
)
def test_what_is_too_large_is_refused_by_its_header(proxy: Proxy, path: str, size: int) -> None:
    """Each path has its own limit; nothing of the body has to be sent."""
    with _connect(proxy) as line:
        head = f"POST {path} HTTP/1.1\r\nHost: {HOST}\r\nContent-Length: {size}\r\n\r\n"
        line.sendall(head.encode())
        assert line.recv(4096).startswith(b"HTTP/1.1 413 ")


def test_half_open_connections_block_nobody_and_are_cut(proxy: Proxy) -> None:
    """A hundred and ten from one address; its own next request is answered all the same."""
    held = [_connect(proxy) for _ in range(110)]
    for line in held:
        line.sendall(b"GET / HTTP/1.1\r\nX: ")
    for source in ("127.0.0.1", "127.0.0.4"):
        with browser(proxy, source) as client:
            assert client.ask("GET", "/sign-in").status == 200
    for line in held:
        with suppress(ConnectionError), line:
            assert b" 200 " not in line.recv(4096)


def test_attempts_to_sign_in_are_limited(proxy: Proxy) -> None:
    """Those of one address, by the proxy; the page itself and other addresses are not concerned."""
    with browser(proxy, "127.0.0.5") as client, browser(proxy, "127.0.0.6") as other:
        statuses = [client.ask("POST", "/sign-in", b"name=nobody").status for _ in range(40)]
        assert statuses[0] != 429
        assert statuses[-1] == 429
        assert client.ask("GET", "/sign-in").status == 200
        assert other.ask("POST", "/sign-in", b"name=nobody").status != 429


def test_what_a_browser_says_about_itself_is_dropped(tmp_path: Path) -> None:
    """The server behind the proxy sees the headers that the proxy sets and no others of that kind."""
    seen: dict[str, Any] = {}

    def application(environ: dict[str, Any], start: Any) -> list[bytes]:
        seen.update(environ)
        start("200 OK", [("Content-Type", "text/html")])
        return [b"done"]

    class Quiet(WSGIRequestHandler):
        """Writes no log."""

        def log_message(self, *_: object) -> None:
            """Do nothing."""

    with make_server("127.0.0.1", 0, application, handler_class=Quiet) as behind:
        thread = Thread(target=behind.handle_request)
        thread.start()
        with nginx(tmp_path, behind.server_port) as running:
            forged = {
                "X-Remote-User": "admin",
                "X-Remote-Groups": "crash lab",
                "Forwarded": "for=198.51.100.7",
                "X-Forwarded-For": "198.51.100.7",
                "X-Forwarded-Proto": "http",
                "X-Forwarded-Host": "elsewhere.example",
                "X-Forwarded-Port": "1",
                "X-Forwarded-Prefix": "/other",
            }
            with browser(running, "127.0.0.7") as client:
                assert client.ask("GET", "/", headers=forged).body == b"done"
        thread.join()
    forwarded = {name: value for name, value in seen.items() if "FORWARDED" in name or "X_REMOTE" in name}
    assert forwarded == {
        "HTTP_X_FORWARDED_FOR": "127.0.0.7",
        "HTTP_X_FORWARDED_PROTO": "https",
        "HTTP_X_FORWARDED_HOST": HOST,
    }


def _connect(proxy: Proxy) -> socket.socket:
    plain = socket.create_connection(("127.0.0.1", proxy.port), timeout=30)
    return proxy.trust.wrap_socket(plain, server_hostname=HOST)

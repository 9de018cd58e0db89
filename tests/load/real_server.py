"""A server started as its users start it, with accounts, and clients that speak to it over sockets."""

from __future__ import annotations

import http.client
import json
import os
import re
import socket
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Self
from urllib.parse import urlencode

from dashboard.access import Role
from dashboard.accounts import AccountBook, open_accounts
from tests.dashboard.served import CHEAP, PASSWORD

if TYPE_CHECKING:
    import ssl
    from collections.abc import Iterator, Mapping

ROOT: Final = Path(__file__).parents[2]
HOST: Final = "ratings.example"
CALLBACKS: Final = "/_dash-update-component"


@dataclass(frozen=True, slots=True)
class RealServer:
    """A server under test.

    Attributes
    ----------
    port
        Of the web server on this machine.
    process
        Number of the web server's process; its worker is a child of it.
    """

    port: int
    process: int

    def memory_mb(self) -> float:
        """Return the resident memory of the web server without its worker."""
        return self._status("VmRSS")

    def processor_s(self) -> float:
        """Return the processor time that the web server has used without its worker."""
        fields = Path(f"/proc/{self.process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def most_memory_mb(self) -> float:
        """Return the largest resident memory since the start or the last `forget_most_memory`."""
        return self._status("VmHWM")

    def forget_most_memory(self) -> None:
        """Let the largest resident memory begin at the present one."""
        Path(f"/proc/{self.process}/clear_refs").write_text("5", encoding="ascii")

    def _status(self, key: str) -> float:
        status = Path(f"/proc/{self.process}/status").read_text(encoding="ascii")
        return int(re.findall(rf"{key}:\s+(\d+) kB", status)[0]) * 1024 / 1e6


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer of the server.

    Attributes
    ----------
    status
        Of HTTP.
    headers
        By name in lower case; of several with one name, the last.
    body
        As it was sent, decoded by nobody.
    """

    status: int
    headers: Mapping[str, str]
    body: bytes


@dataclass(slots=True)
class Client:
    """A browser with one connection that is kept, its cookies and its token.

    Attributes
    ----------
    port
        Of the server.
    source
        Address of this machine that the connection comes from.
    timeout_s
        Longest time for which it waits for an answer.
    trust
        Certificates that it believes, where it speaks to a proxy over HTTPS.
    """

    port: int
    source: str = "127.0.0.1"
    timeout_s: float = 60
    trust: ssl.SSLContext | None = None
    cookies: dict[str, str] = field(default_factory=dict)
    _line: http.client.HTTPConnection | None = None

    def ask(
        self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> Answer:
        """Send a request and return its answer; a connection that was closed is opened again once."""
        sent = {"Host": HOST, "Origin": f"https://{HOST}", "Cookie": self._cookie_line(), **(headers or {})}
        kept = self._line is not None
        try:
            return self._exchange(method, path, body, sent)
        except ConnectionError:
            self.close()
            if not kept:
                raise
            return self._exchange(method, path, body, sent)
        except OSError:
            self.close()
            raise

    def sign_in(self, name: str) -> Answer:
        """Fill in the form of the sign-in page."""
        page = self.ask("GET", "/sign-in").body.decode()
        found = re.search(r'name="csrf_token" value="([^"]+)"', page)
        assert found, page
        form = {"csrf_token": found[1], "name": name, "password": PASSWORD}
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        answer = self.ask("POST", "/sign-in", urlencode(form).encode(), kind)
        self.ask("GET", "/account")
        return answer

    def call(self, body: dict[str, Any]) -> Answer:
        """Send what a page sends when a callback is due."""
        token = self.cookies.get("_csrf_token", "")
        kind = {"Content-Type": "application/json", "X-CSRFToken": token}
        return self.ask("POST", CALLBACKS, json.dumps(body).encode(), kind)

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the connection."""
        self.close()

    def close(self) -> None:
        """Close the connection; the next request opens another."""
        if self._line is not None:
            self._line.close()
            self._line = None

    def _exchange(self, method: str, path: str, body: bytes | None, headers: Mapping[str, str]) -> Answer:
        if self._line is None:
            self._line = self._connection()
            self._line.connect()
            self._line.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._line.request(method, path, body=body, headers=dict(headers))
        answer = self._line.getresponse()
        content = answer.read()
        for cookie in answer.headers.get_all("Set-Cookie", []):
            name, _, value = cookie.split(";")[0].partition("=")
            self.cookies[name] = value
        named = {name.lower(): value for name, value in answer.headers.items()}
        return Answer(answer.status, named, content)

    def _connection(self) -> http.client.HTTPConnection:
        place, source = ("127.0.0.1", self.port), (self.source, 0)
        if self.trust is None:
            return http.client.HTTPConnection(*place, timeout=self.timeout_s, source_address=source)
        return http.client.HTTPSConnection(
            *place, timeout=self.timeout_s, source_address=source, context=self.trust
        )

    def _cookie_line(self) -> str:
        return "; ".join(f"{name}={value}" for name, value in self.cookies.items())


@contextmanager
def real_server(
    project: Path,
    folder: Path,
    *,
    accounts: Mapping[str, Role] | None = None,
    more: str = "",
    proxies: int = 0,
) -> Iterator[RealServer]:
    """Serve a project with accounts until the block ends.

    Parameters
    ----------
    project
        Folder of the campaign.
    folder
        Empty, for settings, accounts and jobs.
    accounts
        Names and roles; one for each role when left out. All have the password of the tests.
    more
        Further lines of the table ``listen`` and further tables of the settings.
    proxies
        Reverse proxies that are believed.
    """
    port = free_port()
    (folder / "secret.key").write_text("k" * 48)
    (folder / "secret.key").chmod(0o600)
    settings = folder / "server.toml"
    settings.write_text(
        f'project = "{project}"\n[public]\nurl = "https://{HOST}"\nproxies = {proxies}\n'
        f'[accounts]\nsecret_key_file = "secret.key"\n[listen]\nport = {port}\n{more}'
    )
    book = AccountBook(open_accounts(str(folder / "accounts.sqlite")), passwords=CHEAP)
    for name, role in (accounts or {role.value: role for role in Role}).items():
        book.add(name, role, PASSWORD)
    command = [sys.executable, "-m", "dashboard.serving", "--config", str(settings)]
    environment = os.environ | {"PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True) as server:
        try:
            assert server.stdout
            assert "Ctrl+C ends it" in server.stdout.readline()
            yield RealServer(port, server.pid)
        finally:
            server.terminate()


def free_port() -> int:
    """Return a port that nobody uses at present."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])

"""A small server of object storage for tests: lists in pages, sends objects, counts what it is asked."""

from __future__ import annotations

import hashlib
import threading
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, unquote, urlsplit
from xml.sax.saxutils import escape

from correlate.object_storage import _client

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import pytest

BUCKET = "bucket"
_WHEN = "2026-11-30T12:00:00.000Z"


class ObjectServer:
    """The one bucket of a server on this machine.

    Attributes
    ----------
    objects
        Bytes by key.
    listed, fetched
        What was asked: the prefix of each page of a listing, and the key of each object.
    page
        Most objects that one page names.
    forbidden
        Beginnings of keys that may not be fetched; of prefixes that may not be listed.
    """

    def __init__(self) -> None:
        self.objects: dict[str, bytes] = {}
        self.listed: list[str] = []
        self.fetched: list[str] = []
        self.page = 1000
        self.forbidden: tuple[str, ...] = ()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), type("Handler", (_Handler,), {"storage": self}))
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.01})
        self._thread.start()

    @property
    def endpoint(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def put_folder(self, folder: Path, prefix: str) -> None:
        """Store every file below a folder."""
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                self.objects[f"{prefix}/{file.relative_to(folder).as_posix()}"] = file.read_bytes()

    def forget(self) -> None:
        """Forget what was asked."""
        self.listed.clear()
        self.fetched.clear()

    def stop(self) -> None:
        """Answer no more."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Handler(BaseHTTPRequestHandler):
    storage: ObjectServer
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: object) -> None:
        """Print nothing."""

    def do_GET(self) -> None:
        parts = urlsplit(self.path)
        bucket, _, key = unquote(parts.path).lstrip("/").partition("/")
        asked = {name: values[0] for name, values in parse_qs(parts.query).items()}
        if bucket != BUCKET:
            self._say(404, _error("NoSuchBucket"))
        elif key:
            self.storage.fetched.append(key)
            self._object(key)
        else:
            self.storage.listed.append(asked.get("prefix", ""))
            self._list(asked.get("prefix", ""), asked.get("continuation-token", ""))

    def _object(self, key: str) -> None:
        if key.startswith(self.storage.forbidden):
            self._say(403, _error("AccessDenied"))
        elif key in self.storage.objects:
            self._say(200, self.storage.objects[key], "application/octet-stream")
        else:
            self._say(404, _error("NoSuchKey"))

    def _list(self, prefix: str, after: str) -> None:
        if prefix.startswith(self.storage.forbidden):
            self._say(403, _error("AccessDenied"))
            return
        keys = sorted(key for key in self.storage.objects if key.startswith(prefix) and key > after)
        page, more = keys[: self.storage.page], len(keys) > self.storage.page
        entries = "".join(_entry(key, self.storage.objects[key]) for key in page)
        token = f"<NextContinuationToken>{escape(page[-1])}</NextContinuationToken>" if more else ""
        text = (
            f"<ListBucketResult><Name>{BUCKET}</Name><Prefix>{escape(prefix)}</Prefix>"
            f"<KeyCount>{len(page)}</KeyCount><MaxKeys>{self.storage.page}</MaxKeys>"
            f"<IsTruncated>{str(more).lower()}</IsTruncated>{token}{entries}</ListBucketResult>"
        )
        self._say(200, text.encode())

    def _say(self, status: int, content: bytes, kind: str = "application/xml") -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("ETag", _tag(content))
        self.send_header("Last-Modified", "Mon, 30 Nov 2026 12:00:00 GMT")
        self.end_headers()
        self.wfile.write(content)


def _tag(content: bytes) -> str:
    return f'"{hashlib.md5(content, usedforsecurity=False).hexdigest()}"'


def _entry(key: str, content: bytes) -> str:
    return (
        f"<Contents><Key>{escape(key)}</Key><LastModified>{_WHEN}</LastModified>"
        f"<ETag>{escape(_tag(content))}</ETag><Size>{len(content)}</Size></Contents>"
    )


def _error(code: str) -> bytes:
    return f"<Error><Code>{code}</Code><Message>{code}</Message></Error>".encode()


@contextmanager
def object_server(cache: Path, patch: pytest.MonkeyPatch) -> Iterator[ObjectServer]:
    """Start a server that the environment names, with its bucket allowed and an empty cache folder."""
    started = ObjectServer()
    for name, value in {
        "AWS_ENDPOINT_URL": started.endpoint,
        "AWS_ACCESS_KEY_ID": "tester",
        "AWS_SECRET_ACCESS_KEY": "not a secret",
        "AWS_REGION": "us-east-1",
        "CORRELATE_OBJECT_STORAGE": f"s3://{BUCKET}",
        "XDG_CACHE_HOME": str(cache),
    }.items():
        patch.setenv(name, value)
    # A program finds the same environment from its start to its end; tests do not.
    _client.cache_clear()
    try:
        yield started
    finally:
        started.stop()

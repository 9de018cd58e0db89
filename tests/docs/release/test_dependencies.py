"""The list of dependencies: each has a reason, a licence and the day of its last release."""

from __future__ import annotations

import json
from http.server import BaseHTTPRequestHandler, HTTPServer
from importlib.metadata import Distribution
from threading import Thread
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from docs.release.dependencies import NOT_KNOWN, last_release, main, newest, reasons
from docs.release.installed import SERVER, UNKNOWN, direct, extras_of_project, libraries, licence_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

_FILES = [
    {"filename": "kelp_rope-1.9-py3-none-any.whl", "upload-time": "2030-01-02T00:00:00Z"},
    {"filename": "kelp_rope-1.10.tar.gz", "upload-time": "2031-03-04T05:06:07Z"},
    {"filename": "kelp_rope-2.0rc1-py3-none-any.whl", "upload-time": "2032-01-01T00:00:00Z"},
    {"filename": "kelp_rope-3.0-py3-none-any.whl", "upload-time": "2033-01-01T00:00:00Z", "yanked": "broken"},
    {"filename": "kelp_rope.exe", "upload-time": "2034-01-01T00:00:00Z"},
]


class _Index(BaseHTTPRequestHandler):
    """Answers for one library as an index of packages does."""

    def do_GET(self) -> None:
        known = self.path == "/simple/kelp-rope/"
        self.send_response(200 if known else 404)
        self.end_headers()
        if known:
            self.wfile.write(json.dumps({"files": _FILES}).encode())

    def log_message(self, *words: object) -> None:
        """Print nothing."""


@pytest.fixture(scope="module")
def index() -> Iterator[str]:
    """Start an index on this machine."""
    with HTTPServer(("127.0.0.1", 0), _Index) as server:
        thread = Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/simple"
        server.shutdown()
        thread.join()


def test_every_direct_dependency_has_a_reason_and_no_reason_is_left_over() -> None:
    """Whoever adds a library says why; whoever removes one removes the sentence."""
    assert sorted(reasons()) == direct(extras_of_project())


def test_every_library_of_a_server_states_a_licence() -> None:
    """A library without one would need somebody to read its text."""
    assert [one.name for one in libraries(SERVER) if one.licence == UNKNOWN] == []


def test_a_library_of_a_library_names_who_needs_it() -> None:
    """The reason of an indirect dependency is the library that requires it."""
    found = {one.name: one for one in libraries(["dashboard"])}
    assert found["dash"].is_direct
    assert not found["flask"].is_direct
    assert "dash" in found["flask"].needed_by
    assert "scikit-learn" not in found


def test_the_last_release_comes_from_the_index(index: str) -> None:
    """The newest final release that was not withdrawn, by version and not by day."""
    assert last_release("kelp-rope", index) == "1.10, 2031-03-04"


@pytest.mark.parametrize("name", ["unknown", "kelp-rope"])
def test_an_index_that_does_not_answer_is_said(name: str, index: str) -> None:
    """A library that the index does not have, or no index at all."""
    assert last_release(name, index if name == "unknown" else "http://127.0.0.1:9/simple") == NOT_KNOWN


def test_a_library_with_trial_releases_alone_shows_the_newest() -> None:
    """There is nothing else to show."""
    assert (
        newest([{"filename": "kelp-0.1a2.tar.gz", "upload-time": "2031-05-06T00:00:00Z"}])
        == "0.1a2, 2031-05-06"
    )


def test_the_command_prints_each_library_with_its_reason() -> None:
    """Without an index the last release is not known; the rest is there."""
    outcome = CliRunner().invoke(main, ["--offline", "--extra", "postgres"])
    assert outcome.exit_code == 0
    line = next(one for one in outcome.output.splitlines() if one.startswith("psycopg "))
    assert "LGPL" in line
    assert NOT_KNOWN in line
    assert "Driver of PostgreSQL." in line


def test_an_extra_that_does_not_exist_is_refused() -> None:
    """The known ones are named."""
    outcome = CliRunner().invoke(main, ["--offline", "--extra", "sails"])
    assert outcome.exit_code == 2
    assert "there is no extra 'sails'" in outcome.output


@pytest.mark.parametrize(
    ("words", "licence"),
    [
        (["License-Expression: MIT", "License: other"], "MIT"),
        (["Classifier: License :: OSI Approved :: BSD License"], "BSD License"),
        (["Classifier: License :: OSI Approved", "License: Zlib"], "Zlib"),
        (["License: " + "all rights " * 20], UNKNOWN),
        ([], UNKNOWN),
    ],
)
def test_the_licence_is_read_from_the_metadata(tmp_path: Path, words: Sequence[str], licence: str) -> None:
    """The expression first, then classifiers, then a short text."""
    (tmp_path / "METADATA").write_text("\n".join(["Metadata-Version: 2.4", "Name: kelp", *words, ""]))
    assert licence_of(Distribution.at(tmp_path)) == licence

"""Uploads: how much, how many, under which names."""

from __future__ import annotations

import base64
from contextlib import suppress
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import CorrelateError
from dashboard.uploads import UploadLimits, keep_uploads, limit_uploads, safe_name, upload_limits
from tests.dashboard.served import small_app

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

SMALL = UploadLimits(bytes=10, files=2)


def sent(content: bytes) -> str:
    """Return a file as a browser sends it."""
    return "data:text/csv;base64," + base64.b64encode(content).decode()


def test_files_arrive_as_they_were_sent(tmp_path: Path) -> None:
    """Byte by byte, under their names, for nobody else to read."""
    folder = tmp_path / "uploads/one"
    names, contents = ["a.csv", "größe 2.csv"], [b"\x00\xff", b"12345678"]
    paths = keep_uploads(folder, names, [sent(content) for content in contents], limits=SMALL)
    assert [path.read_bytes() for path in paths] == contents
    assert [path.name for path in paths] == names
    assert folder.stat().st_mode & 0o077 == 0
    assert list(folder.parent.iterdir()) == [folder]


@pytest.mark.parametrize(
    ("names", "contents", "words"),
    [
        (["a"] * 3, [sent(b"1")] * 3, "3 files were sent; send 1 to 2 at a time"),
        ([], [], "0 files were sent"),
        (["a", "b"], [sent(b"123456")] * 2, r"the files have 0\.0 MB in total; send at most"),
        (["a", "A"], [sent(b"1")] * 2, "two files of the upload have the same name"),
        (["a", "\uff21"], [sent(b"1")] * 2, "two files of the upload have the same name"),
        (
            ["a", "b\u0430"],
            [sent(b"1")] * 2,
            r"mixes Latin and Cyrillic letters in one word \(U\+0062 U\+0430\)",
        ),
        (["a", "../b"], [sent(b"1")] * 2, r"a file cannot be stored under the name '\.\./b'"),
        (["a", "b"], [sent(b"1"), "data:text/csv;base64,%%%"], "b: this file arrived damaged; send it again"),
        (["a", "b"], [sent(b"1"), "hello"], "b: this file arrived without its content"),
    ],
)
def test_an_upload_that_cannot_be_kept_leaves_nothing(
    tmp_path: Path, names: Sequence[str], contents: Sequence[str], words: str
) -> None:
    """One sentence, and no file of it."""
    with pytest.raises(CorrelateError, match=words):
        keep_uploads(tmp_path / "one", names, contents, limits=SMALL)
    assert list(tmp_path.iterdir()) == []


@given(st.text(max_size=150))
def test_a_name_stays_in_its_folder_or_is_refused(name: str) -> None:
    """No name leads elsewhere, hides, or holds what cannot be seen."""
    with suppress(CorrelateError):
        kept = safe_name(name)
        assert not set(kept) & set("/\\\0\n")
        assert kept not in {"", ".", ".."}
        assert not kept.startswith(".")
        assert kept.isprintable()


def test_a_refused_name_is_shown_without_what_cannot_be_seen() -> None:
    """The sentence stays on one line."""
    with pytest.raises(CorrelateError, match=r"under the name 'a\?b\?'; use up to 120 visible characters"):
        safe_name("a\nb\x07")


def test_the_server_refuses_what_is_too_large_before_reading_it() -> None:
    """The limit of a request has room for base64 and for what stands beside the files."""
    app = small_app()
    limit_uploads(app, UploadLimits(bytes=3_000_000, files=7))
    assert app.server.config["MAX_CONTENT_LENGTH"] == 5_000_000
    with app.server.test_request_context("/"):
        assert upload_limits().files == 7
    body = {"output": "x" * 5_000_000}
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    assert answer.status_code == 413

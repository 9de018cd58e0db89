"""Where the tests take their PostgreSQL server from: a promise that is not kept is a failure, not a skip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.store import postgres_server

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def _no_server(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("CORRELATE_POSTGRES_URL", raising=False)
    monkeypatch.delenv("CORRELATE_NEED_POSTGRES", raising=False)
    monkeypatch.setattr(postgres_server, "PROGRAMS", tmp_path)


def test_a_named_server_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """The environment names one."""
    monkeypatch.setenv("CORRELATE_POSTGRES_URL", "postgresql://host/tests")
    with postgres_server.postgres_server() as url:
        assert url == "postgresql://host/tests"


def test_without_a_server_tests_are_skipped() -> None:
    """None is named, none is installed."""
    with (
        pytest.raises(pytest.skip.Exception, match="no PostgreSQL server on this machine"),
        postgres_server.postgres_server(),
    ):
        pass


def test_a_missing_server_fails_where_one_is_promised(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that needs PostgreSQL does not pass without it."""
    monkeypatch.setenv("CORRELATE_NEED_POSTGRES", "1")
    with (
        pytest.raises(pytest.fail.Exception, match=r"CORRELATE_NEED_POSTGRES=1, but .* has no server"),
        postgres_server.postgres_server(),
    ):
        pass


def test_the_newest_server_is_taken(tmp_path: Path) -> None:
    """Of several versions the highest number counts, not the last letter."""
    for version in ("9.6", "15", "8.4"):
        (tmp_path / version / "bin").mkdir(parents=True)
        (tmp_path / version / "bin" / "initdb").touch()
    assert postgres_server._programs() == tmp_path / "15" / "bin"

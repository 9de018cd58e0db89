"""A small project and the application that shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from flask import Flask, g

from correlate import load_campaign
from dashboard.access import Account, Role
from dashboard.access.account import ACCOUNT, TRAIL
from dashboard.state import Project
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from correlate import Campaign


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project once; tests that change files write their own."""
    return write_project(tmp_path_factory.mktemp("small"))


@pytest.fixture
def project(folder: Path) -> Project:
    """Return what the server keeps of the small project."""
    return Project(folder)


@pytest.fixture
def campaign(folder: Path) -> Campaign:
    """Return the campaign of the small project."""
    return load_campaign(folder)


@pytest.fixture
def trail() -> Iterator[list[tuple[str, str]]]:
    """Answer a request of an analyst, and return what is recorded of it: what was done, and about what."""
    told: list[tuple[str, str]] = []

    class Trail:
        def add(self, *, who: str, what: str, about: str = "", address: str = "") -> None:
            assert (who, address) == ("analyst", "192.0.2.1")
            told.append((what, about))

    server = Flask("test")
    server.extensions[TRAIL] = Trail()
    with server.test_request_context(environ_base={"REMOTE_ADDR": "192.0.2.1"}):
        setattr(g, ACCOUNT, Account(name="analyst", role=Role.ANALYST))
        yield told

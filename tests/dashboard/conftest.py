"""A small project and the application that shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from dashboard.state import Project
from tests.dashboard.project import write_project

if TYPE_CHECKING:
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

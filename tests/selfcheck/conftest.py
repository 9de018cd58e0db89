"""A copy of the kit that may be changed."""

from __future__ import annotations

import hashlib
import shutil
from typing import TYPE_CHECKING

import pytest

from correlate.selfcheck import KIT

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture
def kit(tmp_path: Path) -> Path:
    """Copy the kit of the installation."""
    return shutil.copytree(KIT, tmp_path / "kit")


@pytest.fixture
def small_kit(tmp_path: Path) -> Callable[[str, str], Path]:
    """Write a kit with one file of curves; takes the checks and the curves."""

    def write(checks: str, curves: str) -> Path:
        folder = tmp_path / "own"
        folder.mkdir()
        files = {"kit.toml": f'title = "own"\n{checks}', "curves.csv": curves}
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        lines = [f"{hashlib.sha256(text.encode()).hexdigest()}  {name}\n" for name, text in files.items()]
        (folder / "SHA256SUMS").write_text("".join(lines), encoding="utf-8")
        return folder

    return write

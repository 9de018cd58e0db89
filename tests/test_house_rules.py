"""Rules for the code: style, types and imports."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ALLOWED_AT_THE_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "correlate",
    "dashboard",
    "tests",
    "demo_pairs",
    "docs",
}


@pytest.mark.parametrize(
    "command",
    [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
    ],
    ids=" ".join,
)
def test_tool_finds_nothing(command: list[str]) -> None:
    """Ruff and mypy have nothing to say about any file."""
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_import_contracts_hold() -> None:
    """Upper layers import lower ones, never the reverse."""
    program = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([program], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_nothing_else_stands_at_the_top_of_the_tree() -> None:
    """The top level holds the files and folders of the plan, and dotfiles."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {top for top in tops if not top.startswith(".")} <= ALLOWED_AT_THE_TOP

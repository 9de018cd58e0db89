"""Programs that a command starts: always the installed ones, whatever the working folder holds."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def planted(tmp_path: Path) -> Path:
    """Write a folder with packages of the same names as ours, which leave a file when they are run."""
    for name in ("dashboard", "demo_pairs"):
        (tmp_path / name).mkdir()
        code = f"import pathlib; pathlib.Path({str(tmp_path / 'planted-code-ran')!r}).touch()\n"
        (tmp_path / name / "__init__.py").write_text(code)
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["serve", "--config", "none.toml"], "none.toml: cannot be read"),
        (["account", "add", "--help"], "Usage: correlate account add [OPTIONS] NAME"),
        (["demo", "--no-serve", "--into", "demo_pairs"], "holds something that this demo did not make"),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else "",
)
def test_code_in_the_working_folder_is_not_run(planted: Path, arguments: list[str], expected: str) -> None:
    """A command run in a received folder starts the installed program, not a package planted there."""
    done = subprocess.run(
        [sys.executable, "-P", "-m", "correlate", *arguments],
        cwd=planted,
        capture_output=True,
        text=True,
        check=False,
    )
    assert expected in done.stdout + done.stderr
    assert not (planted / "planted-code-ran").exists()


def test_every_program_is_started_without_the_working_folder() -> None:
    """Wherever the source or a settings file starts a module, the option ``-P`` stands before ``-m``."""
    files = [
        file
        for package in ("correlate", "dashboard", "demo_pairs")
        for file in (ROOT / package).rglob("*")
        if file.suffix in {".py", ".toml"}
    ]
    lines = [line.strip() for file in files for line in file.read_text(encoding="utf-8").splitlines()]
    started = [line for line in lines if '"-m"' in line]
    assert started
    assert [line for line in started if not re.search(r'"-P", "-m"', line)] == []

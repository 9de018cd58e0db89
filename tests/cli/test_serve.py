"""The commands that hand over to the server: it stays out of the command line itself."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def test_the_help_is_that_of_the_program() -> None:
    """What is typed after the command reaches the other program as it was typed."""
    done = subprocess.run(
        [sys.executable, "-m", "correlate", "account", "add", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith("Usage: correlate account add [OPTIONS] NAME")


def test_wrong_settings_end_the_command_with_a_sentence(tmp_path: Path) -> None:
    """The exit code of the other program is that of the command."""
    done = subprocess.run(
        [sys.executable, "-m", "correlate", "serve", "--config", str(tmp_path / "none.toml")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.startswith(f"correlate: {tmp_path}/none.toml: cannot be read")

"""Resolves the lock of a server installation: ``python -m docs.release.lock``."""

from __future__ import annotations

import subprocess
import sys
from typing import Final

import click

from correlate.files import write_text
from docs.release.installed import ROOT, SERVER

LOCK: Final = ROOT / "docs/release" / "server.lock"
"""Each library of a server installation, its version, and the SHA-256 of every file that may be installed."""

_HEAD: Final = """\
# The libraries of a server installation: version and SHA-256 of every file that may be installed.
# Written by: python -m docs.release.lock
# Install with: pip install --require-hashes -r server.lock, then: pip install --no-deps WHEEL
"""


@click.command()
def main() -> None:
    """Resolve the dependencies of a server installation and write them with their hashes."""
    write_text(LOCK, _HEAD + resolved())
    click.echo(f"{LOCK.relative_to(ROOT)} written")


def resolved() -> str:
    """Return the lock for all systems and Pythons that are promised, with the versions the tests run with."""
    extras = [f"--extra={extra}" for extra in SERVER]
    command = [
        *(sys.executable, "-m", "uv", "pip", "compile", "pyproject.toml", *extras),
        *("--constraints", "tests/constraints.txt", "--python-version", "3.11"),
        *("--universal", "--generate-hashes", "--no-header", "--no-annotate", "--quiet"),
    ]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        raise click.ClickException(done.stderr.strip())
    return done.stdout


if __name__ == "__main__":
    main(prog_name="python -m docs.release.lock")

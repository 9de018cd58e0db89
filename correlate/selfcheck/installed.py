"""What was checked where: the installed code, the machine and the libraries."""

from __future__ import annotations

import hashlib
import platform
import re
from contextlib import suppress
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path
from typing import Final

from correlate.display import short_repr
from correlate.version import VERSION

PACKAGE: Final = Path(__file__).parents[1]
_CODE: Final = frozenset({".py", ".toml", ".npz", ".html", ".js", ".csv", ".md", ""})
"""Endings of what an installation brings; machine code that is cached beside it is none of it."""

_NAME: Final = re.compile(r"[A-Za-z0-9._-]+")
_DEVELOPMENT: Final = re.compile(r"""extra == ["'](test|documentation)["']""")
"""Extras whose libraries compute no result."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Installation:
    """An installation.

    Attributes
    ----------
    version
        Of the program.
    folder
        Where it is.
    files
        SHA-256 of every file of the package, by its name from there.
    sha256
        Of the list of these, name by name.
    processor, system, python
        Of the machine.
    libraries
        Version of every library that the program names and that is installed.
    """

    version: str
    folder: str
    files: dict[str, str]
    sha256: str
    processor: str
    system: str
    python: str
    libraries: dict[str, str]


def installation() -> Installation:
    """Return what is installed on this machine.

    Returns
    -------
    Installation
    """
    files = code_hashes(PACKAGE)
    listed = "".join(f"{digest}  {name}\n" for name, digest in files.items())
    return Installation(
        version=VERSION,
        folder=str(PACKAGE),
        files=files,
        sha256=hashlib.sha256(listed.encode()).hexdigest(),
        processor=_processor(),
        system=f"{platform.system()} {platform.release()} {platform.machine()}",
        python=f"{platform.python_implementation()} {platform.python_version()}",
        libraries=_libraries(),
    )


def code_hashes(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every file of a package, in the order of their names.

    Parameters
    ----------
    folder
        Of the package.

    Returns
    -------
    dict
        By names with slashes.
    """
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix in _CODE and "__pycache__" not in path.parts
    }


def _processor() -> str:
    """Return the name of the processor, as well as the system knows it."""
    listed = Path("/proc/cpuinfo")
    if listed.is_file():
        for line in listed.read_text(encoding="utf-8", errors="replace").splitlines():
            key, _, name = line.partition(":")
            if key.strip() == "model name" and name.strip():
                return name.strip()
    return platform.processor() or platform.machine() or "not known"


def _libraries() -> dict[str, str]:
    """Return the versions of the libraries that the package and its extras ask for, as far as installed."""
    try:
        lines = requires("correlate") or []
    except PackageNotFoundError:
        # The code runs from a folder that nothing was installed from.
        lines = []
    found = {}
    for line in lines:
        name = _NAME.match(line)
        if name is None or name[0] == "correlate" or _DEVELOPMENT.search(line):
            continue
        with suppress(PackageNotFoundError):
            found[name[0]] = version(name[0])
    return dict(sorted(found.items()))

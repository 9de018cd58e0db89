"""Prints each dependency, its licence, last release and reason: ``python -m docs.release.dependencies``."""

from __future__ import annotations

import json
import tomllib
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, Final
from urllib.error import URLError
from urllib.request import Request, urlopen

import click
from packaging.version import InvalidVersion, Version
from rich.console import Console
from rich.table import Table

from docs.release.installed import ROOT, SERVER, UNKNOWN, Library, extras_of_project, libraries

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

INDEX: Final = "https://pypi.org/simple"
_ACCEPTED: Final = "application/vnd.pypi.simple.v1+json"
_PATIENCE_S: Final = 20
_AT_ONCE: Final = 8
_COLUMNS: Final = 180
NOT_KNOWN: Final = "not known"


@click.command()
@click.option(
    "--extra",
    "extras",
    multiple=True,
    default=SERVER,
    show_default=True,
    help="Extra of the installation; may be given several times.",
)
@click.option(
    "--index", default=INDEX, show_default=True, help="Package index that is queried for release dates."
)
@click.option("--offline", "index", flag_value="", help="Query no index; the last release is then unknown.")
def main(extras: tuple[str, ...], index: str) -> None:
    """Print each library of an installation with its licence, its last release and the reason for it."""
    known = extras_of_project()
    if unknown := [extra for extra in extras if extra not in known]:
        raise click.BadParameter(f"there is no extra '{unknown[0]}'; known are {', '.join(known)}")
    found = libraries(extras)
    with ThreadPoolExecutor(_AT_ONCE) as threads:
        days = list(threads.map(lambda one: last_release(one.name, index), found))
    console = Console(width=_COLUMNS)
    console.print(_table(found, days))
    unlicensed = [one.name for one in found if one.licence == UNKNOWN]
    if unlicensed:
        console.print(
            f"Licence not stated in the metadata of {', '.join(unlicensed)}: read it in the library."
        )
    console.print(f"{len(found)} libraries, {sum(one.is_direct for one in found)} of them required directly.")


def reasons() -> Mapping[str, str]:
    """Return why each direct dependency is here, by name."""
    return tomllib.loads((ROOT / "docs/release" / "reasons.toml").read_text(encoding="utf-8"))


def why(library: Library) -> str:
    """Return why a library is here: the reason of a direct one, else which libraries need it."""
    if library.is_direct:
        return reasons().get(library.name, "no reason given")
    return f"needed by {', '.join(library.needed_by)}"


def last_release(name: str, index: str) -> str:
    """Return the newest release in an index of packages and its day; NOT_KNOWN where it does not answer.

    Source: the JSON form of the simple index, with ``upload-time`` (PEP 691 and PEP 700).
    """
    if not index:
        return NOT_KNOWN
    request = Request(f"{index.rstrip('/')}/{name}/", headers={"Accept": _ACCEPTED})  # noqa: S310 - the user names it
    try:
        with urlopen(request, timeout=_PATIENCE_S) as answer:  # noqa: S310
            files: Sequence[Mapping[str, Any]] = json.load(answer)["files"]
    except (URLError, OSError, ValueError, KeyError):
        return NOT_KNOWN
    return newest(files)


def newest(files: Sequence[Mapping[str, Any]]) -> str:
    """Return version and day of the newest final release among the files of a library."""
    releases = [
        (version, str(file.get("upload-time", ""))[:10])
        for file in files
        if not file.get("yanked") and (version := _version_of(str(file.get("filename", "")))) is not None
    ]
    final = [one for one in releases if not one[0].is_prerelease]
    if not (final or releases):
        return NOT_KNOWN
    version, day = max(final or releases)
    return f"{version}, {day or NOT_KNOWN}"


def _version_of(filename: str) -> Version | None:
    stem = filename.removesuffix(".whl").removesuffix(".tar.gz").removesuffix(".zip")
    part = stem.split("-")[1] if filename.endswith(".whl") and "-" in stem else stem.rpartition("-")[2]
    try:
        return Version(part)
    except InvalidVersion:
        return None


def _table(found: Sequence[Library], days: Sequence[str]) -> Table:
    table = Table(
        "library", "installed", "licence", "last release", "why it is here", box=None, pad_edge=False
    )
    for library, day in zip(found, days, strict=True):
        table.add_row(library.name, library.version, library.licence, day, why(library))
    return table


if __name__ == "__main__":
    main(prog_name="python -m docs.release.dependencies")

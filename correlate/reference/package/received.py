"""Packages that a project has received: in quarantine where errors were found, released by a person."""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final

from correlate.display import short_repr
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.files import turn, unwritable, write_json
from correlate.formats import read
from correlate.reference.check import check, together
from correlate.reference.finding import counted, load_waivers, with_waivers
from correlate.reference.package.verify import unpack, verify

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from correlate.reference.check import CheckOutcome
    from correlate.reference.finding import Finding

RECEIVED: Final = "received"
"""Folder of a project for packages that may be used; the campaign file may name tests in it."""

QUARANTINE: Final = "quarantine"
"""Folder of a project for packages in which errors were found; nothing uses what is there."""

UNREADABLE: Final = frozenset({"set aside"})
"""Kinds of findings without readable data, which cannot be waived."""

LONGEST_REASON: Final = 500
"""Characters of a reason."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class PackageRelease:
    """Who released a package from quarantine.

    Attributes
    ----------
    who, why
        Person and reason.
    when
        Moment in UTC, such as ``2026-11-30T07:15:00+00:00``.
    errors, waived
        Errors of the data check that were open then, and findings that were waived.
    """

    who: str
    when: str
    why: str
    errors: int
    waived: int = 0

    @property
    def words(self) -> str:
        """Who, when, why and despite what, for people."""
        despite = f"despite {counted(self.errors, 'open error')}" if self.errors else "with no open error"
        return f"released from quarantine {despite} by {self.who} on {self.when[:10]}: {self.why}"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ReceivedPackage:
    """A package in a project, as its note says.

    Attributes
    ----------
    name
        Of its folder.
    quarantine
        Whether it is kept apart.
    folder
        Within the project.
    findings
        Of the data check on arrival, one sentence each.
    errors
        How many of them are errors.
    signed_by
        Fingerprint of the key; empty where nobody signed.
    released
        Who released it from quarantine; None where nobody had to, or nobody has.
    problem
        Why the note cannot be read; empty when it can.
    """

    name: str
    quarantine: bool
    folder: str = ""
    findings: tuple[str, ...] = ()
    errors: int = 0
    signed_by: str = ""
    released: PackageRelease | None = None
    problem: str = ""

    def as_plain(self) -> dict[str, Any]:
        """Return what the note says, as plain values."""
        note: dict[str, Any] = {
            "folder": self.folder,
            "quarantine": self.quarantine,
            "findings": list(self.findings),
            "errors": self.errors,
            "signed_by": self.signed_by,
        }
        return note if self.released is None else note | {"released": asdict(self.released)}


def received_packages(project: str | Path) -> list[ReceivedPackage]:
    """Read the notes beside the packages of a project.

    Parameters
    ----------
    project
        Its folder.

    Returns
    -------
    list of ReceivedPackage
        Those in quarantine first, by name. A note that cannot be read or has no package has a problem.
    """
    project = Path(project)
    return [
        _read(project, note, quarantine=place == QUARANTINE)
        for place in (QUARANTINE, RECEIVED)
        for note in sorted((project / place).glob("*.json"))
        if not _is_left_over(project, note)
    ]


def received_package(project: str | Path, name: str) -> ReceivedPackage:
    """Return one package of a project.

    Raises
    ------
    SettingsError
        There is none of this name.
    """
    known = received_packages(project)
    for one in known:
        if one.name == name:
            return one
    listed = ", ".join(one.name for one in known) or "none"
    raise SettingsError(
        f"there is no package '{name}'", where=str(project), remedy=f"packages here: {listed}"
    )


def release_of_test(project: str | Path, test: str | Path) -> tuple[str, PackageRelease] | None:
    """Return the package of a test and who released it; None for a test that was never in quarantine."""
    try:
        place, name, *_ = Path(test).relative_to(project).parts
    except ValueError:
        return None
    note = Path(project) / RECEIVED / f"{name}.json"
    if place != RECEIVED or not note.is_file():
        return None
    released = _read(Path(project), note, quarantine=False).released
    return None if released is None else (name, released)


def package_tests(project: str | Path, package: ReceivedPackage) -> dict[str, list[Path]]:
    """Return the tests of a package by the load case that its sender put them in.

    Raises
    ------
    FormatError
        It holds none.
    """
    folder = Path(project) / package.folder
    cases = sorted(path for path in folder.glob("data/tests/*") if path.is_dir())
    if not package.folder or not cases:
        raise FormatError("this package holds no test", where=package.name, remedy="request another one")
    return {case.name: sorted(case.iterdir()) for case in cases}


def checked_package(
    project: str | Path,
    package: ReceivedPackage,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> CheckOutcome:
    """Run the data check over every test of a package; waivers are not looked at.

    Raises
    ------
    CorrelateError
        A test cannot be read.
    """
    outcomes = []
    cases = package_tests(project, package)
    for done, (name, paths) in enumerate(cases.items()):
        progress(done / len(cases), f"examining {name}")
        outcomes.append(check([read(path) for path in paths]))
    return together(outcomes)


def receive_package(
    project: str | Path,
    archive: str | Path,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> ReceivedPackage:
    """Verify every byte of a package, examine its tests, and keep it as received or in quarantine.

    Parameters
    ----------
    project
        Folder of the project.
    archive
        Zip file or folder with the package; the file name without its ending names the package.
    progress
        Told how far it is, from 0 to 1, and what is done; what it raises ends the work.

    Returns
    -------
    ReceivedPackage
        In quarantine where the data check found an error.

    Raises
    ------
    CorrelateError
        The package is damaged, holds no test or has the name of another; nothing of it is kept then.
    """
    project, archive = Path(project), Path(archive)
    name = archive.stem
    for place in (RECEIVED, QUARANTINE):
        if (project / place / name).exists():
            raise CorrelateError(
                f"a package '{name}' already exists under {place}",
                where=archive.name,
                remedy="rename the new one",
            )
    with TemporaryDirectory(dir=project, prefix=".ingest-") as beside:
        progress(0.05, "comparing every byte")
        verified = unpack(archive, Path(beside) / name)
        arrived = ReceivedPackage(name=name, quarantine=True, folder=name)
        outcome = checked_package(beside, arrived, lambda done, words: progress(0.3 + 0.6 * done, words))
        errors = outcome.count("error")
        place = QUARANTINE if errors else RECEIVED
        package = ReceivedPackage(
            name=name,
            quarantine=bool(errors),
            folder=f"{place}/{name}",
            findings=tuple(
                f"{one.place}: {one.what}".replace(f"{Path(beside)}/", "") for one in outcome.findings
            ),
            errors=errors,
            signed_by="" if verified.signed_by is None else verified.signed_by.fingerprint,
        )
        progress(0.98, "storing the package")
        (project / place).mkdir(exist_ok=True)
        # Beside the package, not in it: a package with a file added would not be whole any more.
        write_json(project / place / f"{name}.json", package.as_plain())
        (Path(beside) / name).rename(project / place / name)
    return package


def release_package(
    project: str | Path, name: str, *, who: str, why: str, now: datetime | None = None
) -> ReceivedPackage:
    """Move a package from quarantine to the received ones; who answers for it, when and why stays with it.

    Errors that are not waived stay open: the data check of every load case that uses the tests reports them.

    Parameters
    ----------
    project
        Folder of the project.
    name
        Of the package.
    who, why
        Who answers for its use, and the reason.
    now
        Moment; None for the present one.

    Returns
    -------
    ReceivedPackage
        As it is then.

    Raises
    ------
    SettingsError
        Nobody is named, no reason is given, or the package is not in quarantine.
    FormatError
        A byte of the package has changed, or it has channels or tests that cannot be read.
    """
    project = Path(project)
    who, why = named(who), checked_reason(why)
    with _turn(project):
        package = received_package(project, name)
        if not package.quarantine or package.problem:
            raise SettingsError(
                package.problem or f"the package '{name}' is not in quarantine",
                where=package.folder,
                remedy="reload the page" if not package.problem else "upload the package again",
            )
        verify(project / package.folder)
        outcome = with_waivers(checked_package(project, package), load_waivers(project))
        refuse_unreadable(outcome.findings)
        moment = (now or datetime.now(UTC)).isoformat(timespec="seconds")
        released = PackageRelease(
            who=who, when=moment, why=why, errors=outcome.count("error"), waived=len(outcome.waived)
        )
        freed = replace(package, quarantine=False, folder=f"{RECEIVED}/{name}", released=released)
        _move(project, package, freed)
    return freed


def refuse_unreadable(findings: Sequence[Finding]) -> None:
    """Refuse findings that say that data cannot be read.

    Raises
    ------
    FormatError
        There is one; the message names the first.
    """
    unreadable = [one for one in findings if one.kind in UNREADABLE]
    if unreadable:
        raise FormatError(
            f"{counted(len(unreadable), 'channel')} cannot be read, first: {unreadable[0].what}",
            where=unreadable[0].short_place,
            remedy="request a package in which every channel can be read",
        )


def checked_reason(why: str) -> str:
    """Return a reason on one line.

    Raises
    ------
    SettingsError
        There is none, or it is too long.
    """
    words = " ".join(why.split())
    if not words:
        raise SettingsError("no reason is given", remedy="state why the data may be used")
    if len(words) > LONGEST_REASON:
        raise SettingsError(f"the reason has {len(words)} characters", remedy=f"use up to {LONGEST_REASON}")
    return words


def named(who: str) -> str:
    """Return the name of a person.

    Raises
    ------
    SettingsError
        There is none.
    """
    if not who.strip():
        raise SettingsError("nobody is named as responsible", remedy="give the name of the person")
    return who.strip()


@contextmanager
def _turn(project: Path) -> Iterator[None]:
    try:
        with turn(project):
            yield
    except OSError as error:
        raise unwritable(project, error) from error


def _move(project: Path, package: ReceivedPackage, freed: ReceivedPackage) -> None:
    """Move a package and its note.

    The new note is there before the package, so that a package is never without the record of its release;
    one that is left over after an interruption has no package beside it and counts for nothing.
    """
    (project / RECEIVED).mkdir(exist_ok=True)
    old, new = (project / f"{one.folder}.json" for one in (package, freed))
    if (project / freed.folder).exists():
        raise SettingsError(
            f"a package '{package.name}' already exists under {RECEIVED}",
            where=package.folder,
            remedy="upload the package under another name",
        )
    write_json(new, freed.as_plain())
    try:
        (project / package.folder).rename(project / freed.folder)
    except OSError:
        new.unlink(missing_ok=True)
        raise
    old.unlink(missing_ok=True)


def _is_left_over(project: Path, note: Path) -> bool:
    """Return whether a note belongs to an interrupted move: its package is in the other folder."""
    other = RECEIVED if note.parent.name == QUARANTINE else QUARANTINE
    return not note.with_suffix("").exists() and (project / other / note.stem).exists()


def _read(project: Path, note: Path, *, quarantine: bool) -> ReceivedPackage:
    place = f"{note.parent.name}/{note.stem}"
    try:
        said: dict[str, Any] = json.loads(note.read_text(encoding="utf-8"))
        released = said.get("released")
        return ReceivedPackage(
            name=note.stem,
            quarantine=quarantine,
            folder=place,
            findings=tuple(map(str, said["findings"])),
            errors=int(said["errors"]),
            signed_by=str(said["signed_by"]),
            released=None if released is None else PackageRelease(**released),
            problem="" if (project / place).is_dir() else f"the folder {place} is missing",
        )
    except (OSError, ValueError, KeyError, TypeError):
        words = f"{note.parent.name}/{note.name} cannot be read; verify the package and write its note again"
        return ReceivedPackage(name=note.stem, quarantine=quarantine, folder=place, problem=words)

"""Packages that a project has received: in quarantine with errors, or where the signature is not accepted."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pydantic import TypeAdapter

from correlate.display import short_repr
from correlate.errors import CorrelateError, FormatError, SettingsError, printable
from correlate.files import unwritable, write_json
from correlate.formats import read
from correlate.plain_files import read_json
from correlate.reference.finding import counted
from correlate.reference.package.listing import stored_signature
from correlate.reference.package.media import check_media, package_media
from correlate.reference.package.trust import trust_of_project
from correlate.reference.package.verify import unpack
from correlate.temporary import remove_abandoned, temporary_folder

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.reference.check import CheckOutcome
    from correlate.reference.package.media import PackageMedia
    from correlate.reference.package.trust import SigningChain, Trust

RECEIVED: Final = "received"
"""Folder of a project for packages that may be used; the campaign file may name tests in it."""

QUARANTINE: Final = "quarantine"
"""Folder of a project for packages with errors or without accepted signature; nothing uses what is there."""


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
    distrust
        Why its signature was not accepted then; empty where nothing spoke against it.
    """

    who: str
    when: str
    why: str
    errors: int
    waived: int = 0
    distrust: str = ""

    @property
    def words(self) -> str:
        """Who, when, why and despite what, for people."""
        despite = f"despite {counted(self.errors, 'open error')}" if self.errors else "with no open error"
        despite += f" and although {self.distrust}" if self.distrust else ""
        words = f"released from quarantine {despite} by {self.who} on {self.when[:10]}: {self.why}"
        # A note is a text that somebody can have changed.
        return printable(" ".join(words.split()))


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
    distrust
        Why its signature was not accepted on arrival; empty where nothing spoke against it.
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
    distrust: str = ""
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
            "distrust": self.distrust,
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


def package_of_test(project: str | Path, test: str | Path) -> str:
    """Return the name of the received package that a test lies in; empty for any other test."""
    try:
        place, name, *_ = Path(test).relative_to(project).parts
    except ValueError:
        return ""
    return name if place == RECEIVED and (Path(project) / RECEIVED / f"{name}.json").is_file() else ""


def release_of_test(project: str | Path, test: str | Path) -> tuple[str, PackageRelease] | None:
    """Return the package of a test and who released it; None for a test that was never in quarantine."""
    name = package_of_test(project, test)
    if not name:
        return None
    released = _read(Path(project), Path(project) / RECEIVED / f"{name}.json", quarantine=False).released
    return None if released is None else (name, released)


def media_of_test(project: str | Path, test: str | Path) -> tuple[PackageMedia, ...]:
    """Return the photos and films that the package of a test lists for it, or for all its tests.

    Raises
    ------
    FormatError
        The description of the package cannot be read.
    """
    name = package_of_test(project, test)
    if not name:
        return ()
    listed = package_media(Path(project) / RECEIVED / name)
    return tuple(one for one in listed if one.test in {"", Path(test).name})


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
    from correlate.reference.check import check, together  # noqa: PLC0415 - slow to load

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
    *,
    trust: Trust | None = None,
) -> ReceivedPackage:
    """Verify every byte of a package, examine its tests, and store it as received or in quarantine.

    Parameters
    ----------
    project
        Folder of the project.
    archive
        Zip file or folder with the package; the file name without its ending names the package.
    progress
        Told how far it is, from 0 to 1, and what is done; what it raises ends the work.
    trust
        Whose signatures are accepted; None for the folder ``trusted_keys`` of the project.

    Returns
    -------
    ReceivedPackage
        In quarantine where the data check found an error, or where the signature is not accepted.

    Raises
    ------
    CorrelateError
        The package is damaged, holds no test or has the name of another; nothing of it is kept then.
    """
    project, archive = Path(project), Path(archive)
    remove_abandoned(project)
    _refuse_existing(project, archive)
    trust = trust_of_project(project) if trust is None else trust
    try:
        with temporary_folder(project / "package") as beside:
            package = _examined(beside, archive, progress, trust)
            progress(0.98, "storing the package")
            place = project / package.folder
            place.parent.mkdir(exist_ok=True)
            # Beside the package, not in it: a package with a file added would not be whole any more.
            write_json(place.with_name(f"{package.name}.json"), package.as_plain())
            (beside / package.name).rename(place)
    except OSError as error:
        raise unwritable(project, error) from error
    return package


def _examined(
    beside: Path, archive: Path, progress: Callable[[float, str], None], trust: Trust
) -> ReceivedPackage:
    """Unpack a package into a folder, check its tests, and say where it belongs."""
    name = archive.stem
    progress(0.05, "comparing every byte")
    verified = unpack(archive, beside / name, trust=trust)
    check_media(beside / name)
    arrived = ReceivedPackage(name=name, quarantine=True, folder=name)
    outcome = checked_package(beside, arrived, lambda done, words: progress(0.3 + 0.6 * done, words))
    errors, distrust = outcome.count("error"), verified.chain.objection
    place = QUARANTINE if errors or distrust else RECEIVED
    return ReceivedPackage(
        name=name,
        quarantine=place == QUARANTINE,
        folder=f"{place}/{name}",
        findings=tuple(f"{one.place}: {one.what}".replace(f"{beside}/", "") for one in outcome.findings),
        errors=errors,
        signed_by="" if verified.signed_by is None else verified.signed_by.fingerprint,
        distrust=distrust,
    )


def _refuse_existing(project: Path, archive: Path) -> None:
    for place in (RECEIVED, QUARANTINE):
        if (project / place / archive.stem).exists():
            raise CorrelateError(
                f"a package '{archive.stem}' already exists under {place}",
                where=archive.name,
                remedy="rename the new one",
            )


def signing_chain(
    project: str | Path, package: ReceivedPackage, *, trust: Trust | None = None
) -> SigningChain:
    """Return who signed a package, and whether the key is trusted today.

    The signature is compared with the list that it signs; the files of the package are not read again.

    Parameters
    ----------
    project
        Its folder.
    package
        In it.
    trust
        Whose signatures are accepted; None for the folder ``trusted_keys`` of the project.

    Returns
    -------
    SigningChain
        Its ``words`` are one sentence for people.

    Raises
    ------
    FormatError
        Signature or trusted keys cannot be read.
    """
    trust = trust_of_project(project) if trust is None else trust
    folder = Path(project) / package.folder
    return trust.chain(stored_signature(folder, where=package.folder))


def remove_left_over_notes(project: Path) -> None:
    """Remove the notes that an interrupted release of a package left in the other folder."""
    for place in (QUARANTINE, RECEIVED):
        for note in (project / place).glob("*.json"):
            if _is_left_over(project, note):
                note.unlink(missing_ok=True)


def _is_left_over(project: Path, note: Path) -> bool:
    """Return whether a note belongs to an interrupted move: its package is in the other folder."""
    other = RECEIVED if note.parent.name == QUARANTINE else QUARANTINE
    return not note.with_suffix("").exists() and (project / other / note.stem).exists()


_RELEASE: Final = TypeAdapter(PackageRelease)


def _read(project: Path, note: Path, *, quarantine: bool) -> ReceivedPackage:
    place = f"{note.parent.name}/{note.stem}"
    try:
        said: dict[str, Any] = read_json(note)
        released = said.get("released")
        return ReceivedPackage(
            name=note.stem,
            quarantine=quarantine,
            folder=place,
            findings=tuple(map(str, said["findings"])),
            errors=int(said["errors"]),
            signed_by=str(said["signed_by"]),
            distrust=str(said.get("distrust", "")),
            released=None if released is None else _RELEASE.validate_python(released),
            problem="" if (project / place).is_dir() else f"the folder {place} is missing",
        )
    except (OSError, ValueError, LookupError, TypeError, AttributeError, OverflowError):
        # The note is a text that anybody who may write in the project can have changed.
        words = f"{note.parent.name}/{note.name} cannot be read; verify the package and write its note again"
        return ReceivedPackage(name=note.stem, quarantine=quarantine, folder=place, problem=words)

"""The release of a package from quarantine, by a person who is responsible for it."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError, SettingsError
from correlate.files import turn, unwritable, write_json
from correlate.reference.finding import counted, load_waivers, with_waivers
from correlate.reference.package.received import (
    RECEIVED,
    PackageRelease,
    ReceivedPackage,
    checked_package,
    received_package,
    remove_left_over_notes,
    signing_chain,
)
from correlate.reference.package.verify import verify

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.reference.finding import Finding
    from correlate.reference.package.trust import Trust

UNREADABLE: Final = frozenset({"set aside"})
"""Kinds of findings without readable data, which cannot be waived."""

LONGEST_REASON: Final = 500
"""Characters of a reason."""


def release_package(
    project: str | Path,
    name: str,
    *,
    who: str,
    why: str,
    now: datetime | None = None,
    trust: Trust | None = None,
) -> ReceivedPackage:
    """Move a package from quarantine to the received ones; person, time and reason are recorded with it.

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
    trust
        Whose signatures are accepted; None for the folder ``trusted_keys`` of the project.

    Returns
    -------
    ReceivedPackage
        As it is then. Its record states why its signature is not accepted, if it is not.

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
        remove_left_over_notes(project)
        package = received_package(project, name)
        if not package.quarantine or package.problem:
            raise SettingsError(
                package.problem or f"the package '{name}' is not in quarantine",
                where=package.folder,
                remedy="reload the page" if not package.problem else "upload the package again",
            )
        verify(project / package.folder)
        distrust = signing_chain(project, package, trust=trust).objection
        outcome = with_waivers(checked_package(project, package), load_waivers(project))
        refuse_unreadable(outcome.findings)
        moment = (now or datetime.now(UTC)).isoformat(timespec="seconds")
        released = PackageRelease(
            who=who,
            when=moment,
            why=why,
            errors=outcome.count("error"),
            waived=len(outcome.waived),
            distrust=distrust,
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

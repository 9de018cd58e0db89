"""Using the tests of a received package in a campaign: what would change, and the change."""

from __future__ import annotations

import difflib
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate.campaign.rewriting import (
    add_load_case,
    add_tests,
    check_characters,
    rewrite_campaign,
    with_change,
)
from correlate.channel import is_channel_code
from correlate.display import short_repr
from correlate.errors import CorrelateError, SettingsError
from correlate.evaluation.definition import load_campaign
from correlate.formats import read
from correlate.reference.package.received import package_tests, received_package
from correlate.reference.package.verify import verify
from correlate.reference.waiving import waive
from correlate.spelling import is_taken, unclear

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase
    from correlate.formats import Recording
    from correlate.reference.finding import Finding, WaiverBook
    from correlate.reference.package.received import PackageRelease, ReceivedPackage


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class PackageUse:
    """What a campaign file becomes when tests of a package are used in it; nothing is written yet.

    Attributes
    ----------
    package
        Its name.
    released
        Who released it from quarantine; None where nobody had to.
    load_case
        Name of the load case that the tests join.
    is_new
        Whether the load case is new.
    tests
        Names of the tests.
    channels
        That the load case rates.
    missing
        Channels of the load case that a test does not have, by the name of the test.
    lines
        Of the campaign file that change: removed ones begin with ``-``, added ones with ``+``.
    path, before, after
        The campaign file, its text, and its text with the change.
    """

    package: str
    released: PackageRelease | None
    load_case: str
    is_new: bool
    tests: tuple[str, ...]
    channels: tuple[str, ...]
    missing: Mapping[str, tuple[str, ...]]
    lines: tuple[str, ...]
    path: Path
    before: str
    after: str


def plan_repeats(campaign_file: str | Path, package: str, *, load_case: str, source: str = "") -> PackageUse:
    """Plan to use the tests of a package as further repeats of a load case.

    Parameters
    ----------
    campaign_file
        The file; packages are looked for beside it.
    package
        Name of a received package.
    load_case
        Name of a load case of the campaign.
    source
        Folder of the tests in the package; may be left out where there is one.

    Returns
    -------
    PackageUse
        For :func:`use_package`.

    Raises
    ------
    CorrelateError
        The package is in quarantine, has changed, or is unknown; a test of its name is in the load case; no
        channel of the load case is in a test; or the file would not be valid.
    """
    path = Path(campaign_file)
    received, pattern, tests = _tests_of(path.parent, package, source)
    case = load_campaign(path).load_case(load_case)
    return _planned(path, received, case.name, tests, lambda text: add_tests(text, load_case, pattern))


def plan_load_case(
    campaign_file: str | Path,
    package: str,
    *,
    name: str,
    interval_ms: tuple[float, float],
    title: str = "",
    source: str = "",
) -> PackageUse:
    """Plan to use the tests of a package as a new load case.

    Parameters
    ----------
    campaign_file
        The file; packages are looked for beside it.
    package
        Name of a received package.
    name, title
        Of the new load case: short, and for display.
    interval_ms
        Interval of evaluation.
    source
        Folder of the tests in the package; may be left out where there is one.

    Returns
    -------
    PackageUse
        For :func:`use_package`. The load case rates all channels with a code that every test has.

    Raises
    ------
    CorrelateError
        As for :func:`plan_repeats`; the name is taken or not valid; or the tests share no code.
    """
    path = Path(campaign_file)
    check_characters(name, "name of a load case")
    if reason := unclear(name):
        raise SettingsError(f"the name {name!r} of the load case {reason}", remedy="type it again")
    if is_taken(name, [one.name for one in load_campaign(path).load_cases]):
        raise SettingsError(f"there is a load case '{name}' already", remedy="choose another name")
    received, pattern, tests = _tests_of(path.parent, package, source)
    channels = _shared_channels(tests, package)
    words: dict[str, Any] = {"name": name, **({"title": title.strip()} if title.strip() else {})}
    words |= {
        "tests": [pattern],
        "interval_ms": [int(one) if float(one).is_integer() else one for one in interval_ms],
    }
    return _planned(path, received, name, tests, lambda text: add_load_case(text, words, channels, path))


def use_package(use: PackageUse) -> Campaign:
    """Write what was planned into the campaign file.

    Raises
    ------
    CorrelateError
        The file has changed since, or cannot be written; it is as it was then.
    """

    def change(text: str) -> str:
        if text != use.before:
            raise SettingsError(
                "the campaign file has changed in the meantime", remedy="show the change again"
            )
        return use.after

    return rewrite_campaign(use.path, change)


def uses_of_package(campaign: Campaign, package: ReceivedPackage) -> dict[str, tuple[str, ...]]:
    """Return the tests of a package that each load case of a campaign uses, by the name of the load case."""
    found: dict[str, tuple[str, ...]] = {}
    for case in campaign.load_cases:
        try:
            tests = campaign.tests(case)
        except CorrelateError:
            continue  # the load case itself says what is wrong with its tests
        inside = campaign.folder / package.folder
        names = tuple(name for name, path in tests.items() if path.is_relative_to(inside))
        if names:
            found[case.name] = names
    return found


def waive_in_package(
    campaign: Campaign,
    package: ReceivedPackage,
    findings: Sequence[Finding],
    *,
    who: str,
    why: str,
    day: date | None = None,
) -> WaiverBook:
    """Waive findings of the tests of a package.

    Parameters
    ----------
    campaign
        Whose waivers are written.
    package
        With the tests.
    findings, who, why, day
        As for :func:`correlate.reference.waiving.waive`.

    Returns
    -------
    WaiverBook
        As it is then.

    Raises
    ------
    CorrelateError
        As for :func:`correlate.reference.waiving.waive`; or the campaign uses another test of the same name,
        which the waiver would cover too.
    """
    inside = campaign.folder / package.folder
    named = {Path(one.file).stem for one in findings}
    for case in campaign.load_cases:
        for path in campaign.test_paths(case):
            if path.stem in named and not path.is_relative_to(inside):
                raise SettingsError(
                    f"a waiver for '{path.stem}' would cover another test of this name too",
                    where=f"load case '{case.name}'",
                    remedy="request the package with another name of the test",
                )
    return waive(campaign.folder, findings, who=who, why=why, day=day)


def _tests_of(project: Path, name: str, source: str) -> tuple[ReceivedPackage, str, dict[str, Recording]]:
    """Return a package that may be used, the pattern of its tests, and these, read."""
    package = received_package(project, name)
    if package.quarantine or package.problem:
        raise SettingsError(
            package.problem or "a package in quarantine cannot be used",
            where=package.folder,
            remedy="release it from quarantine first" if not package.problem else "upload it again",
        )
    folders = package_tests(project, package)
    picked = source or next(iter(folders))
    if picked not in folders or (not source and len(folders) > 1):
        raise SettingsError(
            f"it has no tests '{source}'" if source else "it has the tests of several load cases",
            where=package.folder,
            remedy=f"choose one of: {', '.join(folders)}",
        )
    verify(project / package.folder)
    tests = {path.name if path.is_dir() else path.stem: read(path) for path in folders[picked]}
    # A bracket is part of a pattern, unless it stands in brackets itself.
    pattern = f"{package.folder}/data/tests/{picked}".replace("[", "[[]") + "/*"
    return package, pattern, tests


def _planned(
    path: Path,
    package: ReceivedPackage,
    load_case: str,
    tests: Mapping[str, Recording],
    change: Callable[[str], str],
) -> PackageUse:
    present = load_campaign(path)
    is_new = all(one.name != load_case for one in present.load_cases)
    if not is_new:
        _refuse_known(present, present.load_case(load_case), tests)
    before, after, campaign = with_change(path, change)
    case = campaign.load_case(load_case)
    campaign.tests(case)  # refuses two tests of one name
    missing = _missing(case, tests)
    if all(len(names) == len(case.channel) for names in missing.values()) and len(missing) == len(tests):
        raise SettingsError(
            f"no channel of load case '{load_case}' is in a test of this package",
            where=package.folder,
            remedy="choose another load case, or create a new one",
        )
    lines = list(difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm=""))
    return PackageUse(
        package=package.name,
        released=package.released,
        load_case=load_case,
        is_new=is_new,
        tests=tuple(tests),
        channels=tuple(plan.test for plan in case.channel),
        missing=missing,
        lines=tuple(line for line in lines[2:] if not line.startswith("@@")),
        path=path,
        before=before,
        after=after,
    )


def _refuse_known(campaign: Campaign, case: LoadCase, tests: Mapping[str, Recording]) -> None:
    """Refuse a test that the load case has already, by its name or by its data."""
    known = campaign.tests(case)
    names = {name.rpartition("/")[2] for name in known}
    known_data = {_samples(campaign.read_test(path, case)): name for name, path in known.items()}
    for name, recording in tests.items():
        if name in names:
            raise SettingsError(
                f"the load case has a test '{name}' already",
                where=f"load case '{case.name}'",
                remedy="request the package with another name of the test",
            )
        if twin := known_data.get(_samples(recording)):
            raise SettingsError(
                f"the test '{name}' has the same data as '{twin}'",
                where=f"load case '{case.name}'",
                remedy="use each test once",
            )


def _samples(recording: Recording) -> frozenset[str]:
    """Return what is the same for two recordings of the same data, whatever names and headers say."""
    return frozenset(hashlib.sha256(signal.samples.tobytes()).hexdigest() for signal in recording.signals)


def _missing(case: LoadCase, tests: Mapping[str, Recording]) -> dict[str, tuple[str, ...]]:
    planned = [plan.test for plan in case.channel]
    found = {name: tuple(one for one in planned if one not in test) for name, test in tests.items()}
    return {name: channels for name, channels in found.items() if channels}


def _shared_channels(tests: Mapping[str, Recording], package: str) -> Sequence[str]:
    first, *others = tests.values()
    codes = [one.channel for one in first.signals if is_channel_code(one.channel)]
    shared = [code for code in codes if all(code in other for other in others)]
    if not shared:
        raise SettingsError(
            "the tests share no channel with a code",
            where=package,
            remedy="add the load case to the campaign file by hand",
        )
    return shared

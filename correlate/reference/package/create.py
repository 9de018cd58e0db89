"""Creating a package, as a folder or as one zip file."""

from __future__ import annotations

import json
import logging
import shutil
import zipfile
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.display import short_repr
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.extras import need_extra
from correlate.files import FolderSource, refuse_odd, unwritable, whole_file, whole_folder
from correlate.formats import iso13499, read
from correlate.reference.check import CheckOutcome, check, load_case_of, together
from correlate.reference.expectations import NOTHING_EXPECTED, Expectations
from correlate.reference.finding import NO_WAIVERS, SEVERITIES, WaiverBook, counted, with_waivers
from correlate.reference.package.description import (
    PackageWords,
    package_description,
    test_description,
    write_corridors,
)
from correlate.reference.package.media import copy_media
from correlate.reference.package.names import check_names
from correlate.reference.package.signature import SIGNATURE_FILE, check_valid, signature_text
from correlate.reference.package.verify import Verified, verify
from correlate.temporary import remove_abandoned, temporary_folder
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout
    from correlate.reference.package.signature import Signer


_TEXT_SUFFIXES: Final = frozenset({".txt", ".json", ".html", ".csv", ".toml", ".mme", ".chn"})
_ZIP_TIME: Final = (1980, 1, 1, 0, 0, 0)
_BLOCK: Final = 2**20


def write_archive(folder: Path, target: Path) -> None:
    """Write a bag below one folder of its name, text compressed, with a fixed time stamp."""
    with (
        whole_file(target) as stream,
        zipfile.ZipFile(stream, "w", allowZip64=True) as archive,
    ):
        for name, size in FolderSource(folder).files.items():
            entry = zipfile.ZipInfo(f"{folder.name}/{name}", _ZIP_TIME)
            suffix = Path(name).suffix.lower()
            is_text = suffix in _TEXT_SUFFIXES or suffix.removeprefix(".").isdecimal()
            entry.compress_type = zipfile.ZIP_DEFLATED if is_text else zipfile.ZIP_STORED
            entry.external_attr = 0o100644 << 16
            entry.file_size = size
            with (folder / name).open("rb") as source, archive.open(entry, "w") as sink:
                shutil.copyfileobj(source, sink, _BLOCK)


ALGORITHM: Final = "sha512"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class PackagePlan:
    """What goes into a package and how.

    Attributes
    ----------
    tests
        Test folders or files, any format that can be read.
    layouts
        Of tests that are text files no format describes.
    checked_by
        Who answers for the check; not empty.
    words
        Of the sender.
    expectations
        For the check.
    waivers
        Findings that somebody answers for.
    recipes
        How the corridor of a channel is conditioned, by load case and channel; others are taken as recorded.
    despite
        Why the data are shared although the check found errors; empty to refuse then.
    reports
        Turns the outcome of the check into further files of the package: name to text.
    signer
        Signs the package; None for a package without signature.
    checked_at
        When; None for now.
    """

    tests: Sequence[Path]
    checked_by: str
    layouts: Sequence[ColumnLayout] = ()
    words: PackageWords = field(default_factory=PackageWords)
    expectations: Expectations = NOTHING_EXPECTED
    waivers: WaiverBook = NO_WAIVERS
    recipes: Mapping[tuple[str, str], Recipe] = field(default_factory=dict)
    despite: str = ""
    reports: Callable[[CheckOutcome], Mapping[str, str]] | None = None
    signer: Signer | None = None
    checked_at: datetime | None = None


def make_package(plan: PackagePlan, bag: str | Path) -> tuple[Verified, CheckOutcome]:
    """Check tests and write them as a BagIt bag.

    Parameters
    ----------
    plan
        What and how.
    bag
        Folder to be made, or a zip file when the name ends in ``.zip``.

    Returns
    -------
    verified : Verified
        The bag, read again and compared.
    outcome : CheckOutcome
        Of the check.

    Raises
    ------
    FormatError
        A test cannot be read or written, the target exists, or the check found errors and no reason is
        given to share the data all the same.
    SettingsError
        Nobody answers for the check, there is no test, or the key is not valid today.
    MissingExtraError
        The extra 'share' is not installed.
    ChannelError
        A test that is no ISO/TS 13499 folder has channels without codes.

    References
    ----------
    .. [1] RFC 8493 (BagIt), through the library ``bagit``; RFC 8032 (Ed25519) through ``cryptography``.
    """
    need_extra("share", what="a package")
    if not plan.checked_by.strip():
        raise SettingsError(
            "nobody is named as responsible for the check",
            remedy="give the name of the person who checked the data",
        )
    if not plan.tests:
        raise SettingsError("there is no test to share", remedy="name test folders or files")
    if plan.signer is not None:
        check_valid(plan.signer.public, datetime.now(UTC).date())
    bag = Path(bag)
    zipped = bag.suffix.lower() == ".zip"
    remove_abandoned(bag.parent)
    if bag.exists() and (zipped or not bag.is_dir() or any(bag.iterdir())):
        raise FormatError("this already exists", where=str(bag), remedy="remove it or choose another name")
    if not zipped:
        with whole_folder(bag) as folder:
            outcome = _fill(plan, folder)
        return verify(bag), outcome
    try:
        with temporary_folder(bag) as beside:
            folder = beside / bag.stem
            folder.mkdir()
            outcome = _fill(plan, folder)
            write_archive(folder, bag)
    except OSError as error:
        raise unwritable(bag, error) from error
    return verify(bag), outcome


def _fill(plan: PackagePlan, folder: Path) -> CheckOutcome:
    """Write the payload and turn the folder into a bag."""
    descriptions: list[dict[str, Any]] = []
    outcomes: list[CheckOutcome] = []
    for load_case, paths in _by_load_case(plan.tests, plan.layouts).items():
        recordings = [read(path, plan.layouts) for path in paths]
        outcomes.append(with_waivers(check(recordings, expectations=plan.expectations), plan.waivers))
        _refuse_errors(plan, outcomes[-1])
        for path, recording in zip(paths, recordings, strict=True):
            place = f"tests/{load_case}/{_test_name(path)}"
            _write_test(path, recording, folder / place)
            descriptions.append(test_description(recording, load_case=load_case, folder=f"data/{place}"))
        write_corridors(plan.recipes, load_case, recordings, folder / "corridors" / load_case)
    outcome = together(outcomes)
    _write_words(plan, folder, outcome, descriptions)
    _bag(plan, folder, outcome)
    return outcome


def _by_load_case(tests: Sequence[Path], layouts: Sequence[ColumnLayout]) -> dict[str, list[Path]]:
    groups: dict[str, list[Path]] = {}
    taken: dict[str, Path] = {}
    for path in tests:
        load_case = load_case_of(read(path, layouts))
        name = f"tests/{load_case}/{_test_name(path)}"
        if name in taken:
            raise FormatError(
                f"this and {taken[name]} would both be '{name}'", where=str(path), remedy="rename one of them"
            )
        check_names([name], str(path))
        taken[name] = path
        groups.setdefault(load_case, []).append(path)
    return groups


def _test_name(path: Path) -> str:
    """Return the name of a test folder; a description file stands for the folder that it lies in."""
    if path.suffix.lower() == ".mme":
        return path.absolute().parent.name
    return path.name if path.is_dir() else path.stem


def _refuse_errors(plan: PackagePlan, outcome: CheckOutcome) -> None:
    if outcome.has_errors and not plan.despite.strip():
        first = outcome.findings[0]
        raise FormatError(
            f"the check found {counted(outcome.count('error'), 'error')}, first {first.kind}: {first.what}",
            where=first.place,
            remedy="repair or leave out these data, or give a reason for sharing them",
        )


def _write_test(path: Path, recording: Recording, target: Path) -> None:
    """Copy an ISO/TS 13499 folder byte by byte; write anything else in that form."""
    source = path.parent if path.suffix.lower() == ".mme" else path
    target.parent.mkdir(parents=True, exist_ok=True)
    if source.is_dir():
        files = FolderSource(source)
        refuse_odd(files)
        for name in files.files:
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source / name, target / name, follow_symlinks=False)
    else:
        try:
            iso13499.write(recording, target)
        except CorrelateError as error:
            raise error.located(str(path)) from error


def _write_words(
    plan: PackagePlan, folder: Path, outcome: CheckOutcome, descriptions: list[dict[str, Any]]
) -> None:
    moment = plan.checked_at or datetime.now(UTC)
    names = {Path(one["folder"]).name for one in descriptions}
    description = package_description(
        plan.words,
        descriptions,
        media=copy_media(plan.words.media, names, folder / "media"),
        checked_by=plan.checked_by,
        checked_at=moment.isoformat(timespec="seconds"),
        findings={severity: outcome.count(severity) for severity in SEVERITIES},
    )
    if plan.despite.strip():
        description["shared_despite_errors"] = plan.despite.strip()
    files = {"description.json": json.dumps(description, indent=2, ensure_ascii=False) + "\n"}
    if plan.reports is not None:
        files |= plan.reports(outcome)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")


def _bag(plan: PackagePlan, folder: Path, outcome: CheckOutcome) -> None:
    """Turn the folder into a bag of the published version, and sign its list."""
    import bagit  # noqa: PLC0415 - only where needed

    info = {
        "Source-Organization": plan.words.laboratory,
        "Contact-Name": plan.words.contact,
        "External-Description": plan.words.title,
        "Bagging-Date": (plan.checked_at or datetime.now(UTC)).date().isoformat(),
        "Bag-Software-Agent": f"correlate {VERSION} with bagit {bagit.VERSION}",
        "Checked-By": plan.checked_by,
        "Check-Outcome": outcome.in_words,
    }
    # What the library cannot do is raised; it would write a traceback beside that.
    logging.getLogger("bagit").addHandler(logging.NullHandler())
    bag = bagit.make_bag(str(folder), info, processes=1, checksums=[ALGORITHM])
    # The library declares an older draft; the files are the same in the published version as long as no
    # name holds a percent sign or a line end, which is seen to here.
    check_names([name for name in bag.payload_entries() if "%" not in name], str(folder))
    _refuse_percent(bag.payload_entries(), folder)
    (folder / "bagit.txt").write_text(
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", encoding="utf-8"
    )
    bagit.Bag(str(folder)).save(processes=1)
    if plan.signer is not None:
        signed = f"tagmanifest-{ALGORITHM}.txt"
        manifest, moment = (folder / signed).read_bytes(), datetime.now(UTC)
        text = signature_text(plan.signer, manifest, signs=signed, moment=moment)
        (folder / SIGNATURE_FILE).write_text(text, encoding="utf-8")


def _refuse_percent(names: Mapping[str, Any], folder: Path) -> None:
    for name in names:
        if "%" in name:
            raise FormatError(
                f"the name '{name}' holds a percent sign", where=str(folder), remedy="rename the file"
            )

"""A campaign: the validated file and its folder."""

from __future__ import annotations

import copy
import hashlib
from fnmatch import fnmatchcase
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, TypeVar

from pydantic import ValidationError

from correlate.addresses import addressed, is_address
from correlate.display import brief
from correlate.errors import FormatError, SettingsError
from correlate.evaluation.book import CampaignBook, expand
from correlate.evaluation.tables import CampaignTable, LoadCase, Release
from correlate.formats.columns import RunLayout, read_columns_so_far, read_run
from correlate.formats.columns.layout_file import load_layout
from correlate.formats.registry import read_so_far as format_read_so_far
from correlate.object_storage import ObjectStorage
from correlate.plain_files import whole_bytes
from correlate.toml import Mistake, mistakes, parse_toml, refuse

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from correlate.evaluation.book import Expansion
    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout
    from correlate.toml import KeyPath, TomlSource

Entry = TypeVar("Entry", LoadCase, Release)


class Campaign:
    """A campaign file and the folder it lies in.

    Parameters
    ----------
    path
        Of the file.
    content
        The validated content.
    sha256
        Of the bytes of the file; of the hashes of all files where it includes others.
    layouts
        Layouts in files of their own, by the name that the campaign uses.
    files
        The file and all that it includes.

    Attributes
    ----------
    path, folder
        Of the file.
    files
        The file and all that it includes, each once.
    title, device
        Text for display.
    scoring
        How ratings of pairs become one number.
    regions
        Weights of body regions; 1 where the file gives none.
    limits
        That a release must keep.
    load_cases, releases
        In the order of the file.
    layouts
        By name.
    settings
        Of the rating.
    objects
        What the file names in object storage.
    """

    def __init__(
        self,
        path: Path,
        content: CampaignTable,
        sha256: str = "",
        layouts: Mapping[str, ColumnLayout] = MappingProxyType({}),
        files: tuple[Path, ...] = (),
    ) -> None:
        self.path = path
        self.files = files or (path,)
        self.folder = path.parent
        self.sha256 = sha256
        self.title = content.campaign.title
        self.device = content.campaign.device
        self.scoring = content.scoring
        self.regions = dict(content.regions)
        self.limits = content.limits
        self.load_cases = tuple(content.load_case)
        self.releases = tuple(content.release)
        self._has_layout_files = bool(layouts)
        self.layouts = {**layouts, **{layout.name: layout.settings() for layout in content.layout}}
        self.settings = content.rating.settings()
        self.objects = ObjectStorage()

    @property
    def is_current(self) -> bool:
        """Whether everything that was read is known to be unchanged, so that it need not be read again.

        The campaign file and the files that it includes are compared; False if layouts are in separate files.
        """
        if self._has_layout_files:
            return False
        try:
            hashes = [hashlib.sha256(whole_bytes(file)).hexdigest() for file in self.files]
        except (OSError, ValueError):
            return False
        return _joined_hash(hashes) == self.sha256

    def __repr__(self) -> str:
        """Say which campaign it is and how large."""
        size = f"load_cases=<{len(self.load_cases)}>, releases=<{len(self.releases)}>"
        return f"Campaign({brief(self.title)}, {size}, path={brief(self.path)})"

    def with_new_listings(self) -> Campaign:
        """Return a campaign that has not listed object storage yet; this one, if it names no addresses."""
        folders = [one.folder for one in self.releases]
        named = [*folders, *(test for one in self.load_cases for test in one.tests)]
        if not any(map(is_address, named)):
            return self
        again = copy.copy(self)
        again.objects = ObjectStorage()
        return again

    def load_case(self, name: str) -> LoadCase:
        """Return a load case by name.

        Raises
        ------
        SettingsError
            There is none; the message lists those there are.
        """
        return _named(name, self.load_cases, "load case", self.path)

    def release(self, name: str) -> Release:
        """Return a release by name.

        Raises
        ------
        SettingsError
            There is none; the message lists those there are.
        """
        return _named(name, self.releases, "release", self.path)

    def region_weight(self, region: str) -> float:
        """Return the relative weight of a body region."""
        return self.regions.get(region, 1.0)

    def test_paths(self, load_case: LoadCase) -> list[Path]:
        """Return the test folders or files of a load case, one per repeat, sorted within each pattern.

        Raises
        ------
        FormatError
            A pattern or name matches nothing.
        """
        return list(self.tests(load_case).values())

    def tests(self, load_case: LoadCase) -> dict[str, Path]:
        """Return the test folders or files of a load case by the name of the repeat.

        A repeat has the name of its folder or file, preceded by the folder above it where two would have the
        same name.

        Raises
        ------
        FormatError
            A pattern or name matches nothing, or two repeats would still have the same name; object storage
            cannot be used.
        SettingsError
            An address is not among those that may be read.
        """
        found: list[Path] = []
        for pattern in load_case.tests:
            is_object = is_address(pattern)
            matches = self.objects.matches(pattern) if is_object else sorted(self.folder.glob(pattern))
            if not matches:
                raise FormatError(
                    f"no test matches '{pattern}' of load case '{load_case.name}'",
                    where=str(self.path),
                    remedy="correct the entry under 'tests', which is relative to this file",
                )
            found += [match for match in matches if match not in found]
        # A folder has no ending: in thorax-4.3_R1 everything counts.
        stems = [path.name if path.is_dir() else path.stem for path in found]
        names = [
            stem if stems.count(stem) == 1 else f"{path.parent.name}/{stem}"
            for stem, path in zip(stems, found, strict=True)
        ]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise FormatError(
                f"two tests of load case '{load_case.name}' are called '{twice}'",
                where=str(self.path),
                remedy="rename one of the files, so that the repeats can be told apart",
            )
        return dict(zip(names, found, strict=True))

    def model_path(self, release: Release, load_case: LoadCase) -> Path:
        """Return the result file of a release for a load case; of a pattern the only file that matches.

        Raises
        ------
        FormatError
            The folder is in object storage, which cannot be used.
        SettingsError
            It is an address that is not among those that may be read.
        """
        name = _model_file(release, load_case)
        if is_address(release.folder):
            layout = self.model_layout(release, load_case)
            end = None if layout is None else layout.normal_end
            return self.objects.result(release.folder, name, beside=None if end is None else end.file_of)
        folder = self.folder / release.folder
        matches = list(folder.glob(name)) if {"*", "?"} & set(name) else []
        return matches[0] if len(matches) == 1 else folder / name

    def without_result(self, release: Release) -> tuple[str, ...]:
        """Return the names of the load cases for which a release has no result file."""
        return tuple(case.name for case in self.load_cases if not self.model_path(release, case).exists())

    def model_layout(self, release: Release, load_case: LoadCase) -> ColumnLayout | RunLayout | None:
        """Return the layout of that file: the release's, else the load case's, else None."""
        name = release.layout or load_case.layout
        if isinstance(name, list):
            return RunLayout(tuple(self.layouts[one] for one in name))
        return self.layouts[name] if name else None

    def test_layout(self, load_case: LoadCase) -> ColumnLayout | None:
        """Return the layout of the tests of a load case; None when their format is recognised."""
        return self.layouts[load_case.test_layout] if load_case.test_layout else None

    def read_test(self, path: Path, load_case: LoadCase) -> Recording:
        """Read a test of a load case.

        Raises
        ------
        CorrelateError
            It cannot be read.
        """
        return read_file(path, self.test_layout(load_case))

    def read_model(self, release: Release, load_case: LoadCase) -> Recording:
        """Read the result file of a release for a load case.

        Raises
        ------
        CorrelateError
            The file cannot be read.
        """
        return read_file(self.model_path(release, load_case), self.model_layout(release, load_case))

    def read_path(self, path: Path, load_case: LoadCase) -> Recording:
        """Read a file of a load case: a release's result by its layout, anything else as what it says it is.

        Raises
        ------
        CorrelateError
            The file cannot be read.
        """
        for release in self.releases:
            if self._is_result(path, release, load_case):
                return read_file(path, self.model_layout(release, load_case))
        return self.read_test(path, load_case)

    def _is_result(self, path: Path, release: Release, load_case: LoadCase) -> bool:
        """Tell whether a path is the result of a release; nothing is fetched to find out."""
        if is_address(release.folder):
            pattern = f"{release.folder.rstrip('/')}/{_model_file(release, load_case)}"
            return fnmatchcase(addressed(path), pattern)
        return self.model_path(release, load_case).resolve() == path.resolve()


def _model_file(release: Release, load_case: LoadCase) -> str:
    """Return name or pattern of a result within the folder of its release."""
    return load_case.model_file.replace("{load_case}", load_case.name).replace("{release}", release.name)


def read_file(path: Path, layout: ColumnLayout | RunLayout | None) -> Recording:
    """Read a file or test folder with its layout, or in the format that is recognised."""
    return read_so_far(path, layout).finished()


def read_so_far(path: Path, layout: ColumnLayout | RunLayout | None) -> Recording:
    """Read a file as `read_file` does, text as far as it is written."""
    if isinstance(layout, RunLayout):
        return read_run(path, layout)
    return format_read_so_far(path) if layout is None else read_columns_so_far(path, layout)


def load_campaign(path: str | Path) -> Campaign:
    """Read a campaign file.

    Parameters
    ----------
    path
        The file, or the folder that holds a ``campaign.toml``.

    Returns
    -------
    Campaign

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once, those of included files
        too, each with line and key.
    """
    path = Path(path)
    file = path / "campaign.toml" if path.is_dir() else path
    return campaign_of(parse_toml(file, kind="a campaign file"))


def campaign_of(source: TomlSource) -> Campaign:
    """Return the campaign of a text that stands in its file, or shall; see :func:`load_campaign`."""
    file = source.path
    expansion = expand(source)
    sources = expansion.files.all
    try:
        content = CampaignTable.model_validate(expansion.content)
    except ValidationError as error:
        refuse(file, [*expansion.mistakes, *_more_mistakes(error, expansion)])
    if expansion.mistakes:
        refuse(file, expansion.mistakes)
    hashes = [source.sha256 for source in sources]
    files = tuple(source.path for source in sources)
    return Campaign(file, content, _joined_hash(hashes), _layouts_of_files(file, content, expansion), files)


def _joined_hash(hashes: Sequence[str]) -> str:
    return hashes[0] if len(hashes) == 1 else hashlib.sha256("".join(hashes).encode()).hexdigest()


def _more_mistakes(error: ValidationError, expansion: Expansion) -> Iterator[Mistake]:
    """Yield what validation found, without what only follows from mistakes that are known already."""
    for one in mistakes(error, expansion.content, expansion.place, CampaignTable, CampaignBook):
        follows = one.place.line is None or one.place.key == "load_case.channel"
        if not (follows and expansion.mistakes):
            yield one


LAYOUTS: Final = "layouts"
"""Folder beside a campaign file in which layouts are looked for."""


def _layouts_of_files(file: Path, content: CampaignTable, expansion: Expansion) -> dict[str, ColumnLayout]:
    """Read the layout files that the campaign names, by these names."""
    held = {layout.name for layout in content.layout}
    users: list[tuple[KeyPath, LoadCase | Release, str | None]] = []
    for number, case in enumerate(content.load_case):
        named = case.layout if isinstance(case.layout, list) else [case.layout]
        users += [(("load_case", number, "layout"), case, name) for name in named]
        users.append((("load_case", number, "test_layout"), case, case.test_layout))
    for number, release in enumerate(content.release):
        users.append((("release", number, "layout"), release, release.layout))
    found: dict[str, ColumnLayout] = {}
    missing: list[Mistake] = []
    for key, user, name in users:
        if name is None or name in held or name in found:
            continue
        path = file.parent / name if name.endswith(".toml") else file.parent / LAYOUTS / f"{name}.toml"
        if path.is_file():
            found[name] = load_layout(path)
            continue
        known = f"the file has {', '.join(sorted(held))}; " if held else ""
        words = (
            f"'{user.name}' names the layout '{name}', which does not exist; {known}define it under "
            f"[[layout]], or write {LAYOUTS}/{Path(name).stem}.toml with 'correlate layout'"
        )
        missing.append(Mistake(expansion.place(key), words))
    if missing:
        refuse(file, missing)
    return found


def _named(name: str, entries: Sequence[Entry], word: str, path: Path) -> Entry:
    for entry in entries:
        if entry.name == name:
            return entry
    known = ", ".join(entry.name for entry in entries)
    raise SettingsError(f"there is no {word} '{name}'", where=str(path), remedy=f"the file has {known}")

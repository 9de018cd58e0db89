"""A first campaign from the files in any folder: what belongs together, what is compared, and in which time."""

from __future__ import annotations

import math
import os
import re
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.campaign.grouping import Case, Grouping, group_all
from correlate.campaign.partners import (
    Assignment,
    Proposal,
    View,
    assign,
    channel_meaning,
    common_interval,
)
from correlate.campaign.scanning import Found, Scan, listed, scan
from correlate.campaign.unknown_texts import UnknownTexts
from correlate.channel import MAIN_LOCATIONS, PHYSICAL_DIMENSIONS, ChannelCode, is_channel_code
from correlate.errors import FormatError, SettingsError
from correlate.evaluation.book import usual_settings
from correlate.formats import Recording
from correlate.toml import toml_value
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from correlate.campaign.channel_words import Meaning
    from correlate.signal import Signal


SURE: Final = 0.9
"""Partners below this are marked in the file."""
LEAST: Final = 0.7
"""Partners below this are written as comments."""
QUIET_MS: Final = (-40.0, -5.0)
"""Window of the offset of a test, where the record begins early enough (common practice, no source)."""
ENERGY: Final = 0.98
"""Share of the energy of the slowest channel that the interval holds. Chosen here."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What somebody said about the folder; what is left out is found out.

    Attributes
    ----------
    tests, results
        Patterns of paths below the folder.
    load_cases
        Pattern of tests and results by load case.
    units
        Unit system of results without units.
    """

    tests: str = ""
    results: str = ""
    load_cases: Mapping[str, str] = field(default_factory=dict)
    units: str = ""


@dataclass(frozen=True, kw_only=True)
class _Part:
    """A load case as the file has it: one file a release, or one folder of files that have layouts."""

    name: str
    case: Case
    results: dict[str, tuple[Found, ...]]
    partners: tuple[Proposal, ...]
    interval_ms: tuple[float, float]
    is_whole: bool


class FirstCampaign:
    """What was found out about a folder, and the campaign file that follows from it.

    Parameters
    ----------
    folder
        With tests and results.
    told
        What somebody said about it.

    Raises
    ------
    FormatError
        There is no test, no result, or no partner in it.
    SettingsError
        A pattern matches nothing that can be read.
    """

    def __init__(self, folder: Path, told: Told) -> None:
        self.folder = folder
        self.told = told
        self.texts = UnknownTexts(told.units)
        self.scan: Scan = scan(folder, self.texts.read)
        self.tests, self.results = self.scan.split(told.tests, told.results)
        self._check()
        given = {name: self._matches(pattern) for name, pattern in told.load_cases.items()}
        self.grouping: Grouping = group_all(self.tests, self.results, given, _likeness)
        self._check_cases()
        if not told.units and self.texts.tables:
            self._find_units()
        self.assignments: dict[str, Assignment] = assign(
            {case.name: _views(case) for case in self.grouping.cases if case.results}
        )

    def _matches(self, pattern: str) -> set[Path]:
        found = set(self.folder.glob(pattern))
        if not found & {one.path for one in self.scan.found}:
            raise SettingsError(
                f"'{pattern}' matches nothing that can be read",
                where=str(self.folder),
                remedy="correct the pattern",
            )
        return found

    def _check(self) -> None:
        for found, words in ((self.tests, "test"), (self.results, "result of a model")):
            if not found:
                seen = f"; {len(self.scan.found)} recordings can be read" if self.scan.found else ""
                refused = next(iter(self.scan.passed_over.items()), None)
                reason = f"; '{refused[0]}' is not read: {refused[1]}" if refused else ""
                raise FormatError(
                    f"no {words} is found in this folder{seen}{reason}",
                    where=str(self.folder),
                    remedy="name the folder of a project, or give --tests and --results with patterns",
                )

    def _check_cases(self) -> None:
        if not any(case.results for case in self.grouping.cases):
            raise FormatError(
                "no result can be put to a load case",
                where=str(self.folder),
                remedy="give --load-case NAME=PATTERN for each, matching its tests and results",
            )

    # ------------------------------------------------------------------------------------------- units

    def _find_units(self) -> None:
        """Choose the unit system in which results are as large as the tests, and read them again."""
        odds = {}
        for system in self.texts.systems:
            trial = UnknownTexts(system)
            cases = [
                _read_again(case, trial, first_only=True) for case in self.grouping.cases if case.results
            ]
            assigned = assign({case.name: _views(case) for case in cases})
            odds[system] = sum(one.odds for assignment in assigned.values() for one in assignment.partners)
        best = max(odds, key=lambda system: odds[system])
        self.texts = UnknownTexts(best)
        self.texts.is_measured = True
        cases = tuple(_read_again(case, self.texts, first_only=False) for case in self.grouping.cases)
        self.grouping = replace(self.grouping, cases=cases)

    # ------------------------------------------------------------------------------------------- parts

    @cached_property
    def parts(self) -> tuple[_Part, ...]:
        """Load cases with partners; one whose runs write several files without layout is several."""
        found = []
        for case in self.grouping.cases:
            if not case.results:
                continue
            partners = self.assignments[case.name].partners
            interval, is_whole = interval_ms(case)
            for suffix, results in _split(case).items():
                names = frozenset.intersection(
                    *(frozenset().union(*(one.channels for one in files)) for files in results.values())
                )
                own = tuple(one for one in partners if one.model in names)
                if own:
                    found.append(
                        _Part(
                            name=f"{case.name}{suffix}",
                            case=case,
                            results=results,
                            partners=own,
                            interval_ms=interval,
                            is_whole=is_whole,
                        )
                    )
        if not any(one.score >= LEAST for part in found for one in part.partners):
            raise FormatError(
                "no channel of the results is enough like one of the tests",
                where=str(self.folder),
                remedy="check the unit system (--units) and the load cases (--load-case NAME=PATTERN)",
            )
        return tuple(found)

    @cached_property
    def book(self) -> dict[str, Proposal]:
        """The partner of each test channel in most load cases, the surest one."""
        votes: dict[str, Counter[tuple[str, int, str]]] = {}
        best: dict[tuple[str, str, int, str], Proposal] = {}
        for part in self.parts:
            for one in part.partners:
                key = (one.model, one.sign, one.unit)
                votes.setdefault(one.test, Counter())[key] += 1
                known = best.get((one.test, *key))
                if known is None or one.score > known.score:
                    best[one.test, *key] = one
        return {test: best[test, *counted.most_common(1)[0][0]] for test, counted in votes.items()}

    @cached_property
    def alone(self) -> dict[str, str]:
        """Test channels that have no partner anywhere, and why."""
        found: dict[str, str] = {}
        for assignment in self.assignments.values():
            for test, reason in assignment.alone.items():
                if test not in self.book:
                    found.setdefault(test, reason)
        return found

    @cached_property
    def layouts(self) -> dict[str, dict[str, Any]]:
        """Content of each layout file by its name."""
        used = {one.layout for part in self.parts for one in part.case.tests}
        used |= {one.layout for part in self.parts for files in part.results.values() for one in files}
        found = {}
        for name in sorted(used - {""}):
            files = [one.path.name for one in self.scan.found if one.layout == name]
            pattern = files[0] if len(set(files)) == 1 else f"*{os.path.splitext(files[0])[1]}"  # noqa: PTH122
            found[name] = self.texts.tables[name] | {"files": [pattern]}
        return found

    # ----------------------------------------------------------------------------------------- the file

    @cached_property
    def text(self) -> str:
        """The campaign file."""
        return _Writing(self).text()

    @property
    def assumptions(self) -> list[str]:
        """What was assumed, a sentence each."""
        said = [f"tests: {listed(self.tests)}", f"results: {listed(self.results)}"]
        for case in self.grouping.cases:
            releases = ", ".join(case.results) or "none"
            unsure = "" if case.is_sure else ", by their curves only"
            said.append(
                f"load case {case.name}: {len(case.tests)} repeats {case.told_by}, results of {releases}{unsure}"
            )
        for name, questions in self.texts.questions.items():
            said += [f"layout {name}: {question}" for question in questions]
        unsure_partners = [one for one in self.book.values() if one.score < SURE]
        said += [f"partner of {one.test}: '{one.model}', {one.score:.2f}" for one in unsure_partners]
        said += [f"no partner of {test}: {reason}" for test, reason in self.alone.items()]
        said += [f"no place for {one.relative}" for one in self.grouping.left]
        return [*said, *(f"not read: {name}, {reason}" for name, reason in self.scan.passed_over.items())]


def _read_again(case: Case, texts: UnknownTexts, *, first_only: bool) -> Case:
    results = {}
    for release, files in list(case.results.items())[: 1 if first_only else None]:
        results[release] = tuple(_again(one, texts) for one in files)
    return replace(case, results=results)


def _again(one: Found, texts: UnknownTexts) -> Found:
    if not one.layout:
        return one
    recording = texts.read(one.path)
    if recording is None:
        return one
    return replace(one, recording=recording, layout=texts.name_of(recording))


def _views(case: Case) -> list[View]:
    tests = tuple(one.recording for one in case.tests)
    return [View(tests=tests, model=_joined(files)) for files in case.results.values()]


def _joined(files: Sequence[Found]) -> Recording:
    """Return the channels of all files of a run; of two with one name the first."""
    if len(files) == 1:
        return files[0].recording
    signals: dict[str, Signal] = {}
    for one in files:
        for signal in one.recording.signals:
            signals.setdefault(signal.channel, signal)
    return Recording(signals=tuple(signals.values()), path=files[0].path, format="several")


def _likeness(tests: Sequence[Found], files: Sequence[Found]) -> float:
    """Return how well the curves of a run and of tests agree: the mean confidence of their partners."""
    view = View(tests=tuple(one.recording for one in tests), model=_joined(files))
    partners = assign({"": [view]})[""].partners
    return sum(one.score - 0.1 * abs(one.size) for one in partners) / max(len(view.tests[0]), 1)


def _split(case: Case) -> dict[str, dict[str, tuple[Found, ...]]]:
    """Return the results of a load case; by file, with what its name adds, where they cannot be read together."""
    if all(len(files) == 1 or _have_own_layouts(files) for files in case.results.values()):
        return {"": dict(case.results)}
    parts: dict[str, dict[str, tuple[Found, ...]]] = {}
    for release, files in case.results.items():
        for one in files:
            parts.setdefault(f"-{one.path.stem}", {})[release] = (one,)
    return parts


def _have_own_layouts(files: Sequence[Found]) -> bool:
    layouts = [one.layout for one in files]
    channels = [name for one in files for name in one.channels]
    return all(layouts) and len(set(layouts)) == len(layouts) and len(set(channels)) == len(channels)


def interval_ms(case: Case) -> tuple[tuple[float, float], bool]:
    """Return the interval to rate, and whether it is all that is common to tests and results.

    It begins with the record of the results or at zero, and ends when nearly all of the energy of the slowest
    test channel is in, at a multiple of 5 ms.
    """
    recordings = [one.recording for one in case.tests]
    recordings += [one.recording for files in case.results.values() for one in files]
    whole = common_interval(recordings)
    if whole is None:
        raise FormatError(
            "tests and results have no time in common",
            where=f"load case {case.name}",
            remedy="check the units of their times",
        )
    start_ms, end_ms = (_rounded(1e3 * time) for time in whole)
    ends = [
        _end_ms(signal, whole) for recording in recordings[: len(case.tests)] for signal in recording.signals
    ]
    end = 5.0 * math.ceil(max(ends) / 5.0)
    if end >= end_ms or end <= start_ms:
        return (start_ms, end_ms), True
    return (start_ms, end), False


def _rounded(time_ms: float) -> float:
    return round(time_ms, 3)


def _end_ms(signal: Signal, interval: tuple[float, float]) -> float:
    """Return when a test channel has nearly all of its energy, in ms."""
    times = signal.start_s + signal.step_s * np.arange(len(signal))
    quiet = signal.samples[times <= QUIET_MS[1] / 1e3]
    samples = signal.samples - (quiet.mean() if quiet.size else 0.0)
    inside = (times >= interval[0]) & (times <= interval[1])
    energy = np.cumsum(samples[inside] ** 2)
    if energy.size == 0 or energy[-1] == 0:
        return 1e3 * interval[0]
    return float(1e3 * times[inside][np.searchsorted(energy, ENERGY * energy[-1])])


# ---------------------------------------------------------------------------------------------- writing


HEADING: Final = """\
# What is compared with what. Paths are relative to this file, times in ms. Proposed from the files that were
# found; what could be wrong is marked with "check".
"""


class _Writing:
    """The text of the campaign file."""

    def __init__(self, first: FirstCampaign) -> None:
        self.first = first
        self.parts = first.parts
        self.releases = [
            name for name in first.grouping.releases if any(name in part.results for part in self.parts)
        ]
        self.places = _release_folders(first.folder, self.parts, self.releases)

    def text(self) -> str:
        lines = [*HEADING.splitlines(), *self._include(), *self._channels(), ""]
        if _has_quiet(self.parts):
            lines[-1:] = [f'default = [{{test = "*", test_offset_ms = {_window(QUIET_MS)}}}]', ""]
        lines += ["[campaign]", f"title = {toml_value(self.first.folder.resolve().name)}"]
        common = self._common()
        if common:
            lines += ["", "[every_load_case]", *common.values()]
        for part in self.parts:
            lines += ["", *self._load_case(part, set(common))]
        for name in self.releases:
            lines += ["", "[[release]]", f"name = {toml_value(name)}"]
            lines.append(f"folder = {toml_value(self.places[name])}")
        return "\n".join([*lines, ""])

    def _include(self) -> list[str]:
        books = {ready_made(part) for part in self.parts}
        if not any(_has_code(test) for test in self.first.book):
            return []
        chosen = books.pop() if len(books) == 1 else "usual"
        return [f'include = ["ready-made/{chosen}"]']

    def _channels(self) -> list[str]:
        lines = ["channel = ["]
        for test, one in self.first.book.items():
            words = {"test": test, "model": one.model} | ({"model_sign": -1} if one.sign < 0 else {})
            words |= {"model_unit": one.unit} if one.unit else {}
            words |= _settings(test, self.first)
            line = f"  {toml_value(words)},"
            if one.score < LEAST:
                line = f"  # {line.strip()}  # {one.score:.2f}: remove the # to accept"
            elif one.score < SURE:
                line += f"  # check: {one.score:.2f}"
            elif one.unit:
                line += "  # check: unit by size"
            lines.append(line)
        lines += [f"  # {toml_value({'test': test})} {reason}" for test, reason in self.first.alone.items()]
        return [*lines, "]"]

    def _common(self) -> dict[str, str]:
        """Return the lines that are the same in all load cases, by key."""
        each = [self._keys(part) for part in self.parts]
        return {
            key: line
            for key, line in each[0].items()
            if key not in _OWN and all(other.get(key) == line for other in each[1:])
        }

    def _load_case(self, part: _Part, common: set[str]) -> list[str]:
        lines = [line for key, line in self._keys(part).items() if key not in common]
        changed = []
        for one in part.partners:
            booked = self.first.book[one.test]
            if (one.model, one.sign, one.unit) != (
                booked.model,
                booked.sign,
                booked.unit,
            ) and one.score >= LEAST:
                changed.append({"test": one.test, "model": one.model, "model_sign": one.sign})
        lines += [f"override = {toml_value(changed)}  # check"] if changed else []
        return ["[[load_case]]", *lines]

    def _keys(self, part: _Part) -> dict[str, str]:
        found = {"name": f"name = {toml_value(part.name)}"}
        found["tests"] = f"tests = {toml_value(self._patterns(part))}"
        books = {ready_made(other) for other in self.parts}
        if len(books) > 1 and ready_made(part) != "usual" and _has_code(part.partners[0].test):
            found["include"] = f'include = ["ready-made/{ready_made(part)}"]'
        mark = (
            "# check: all they have in common" if part.is_whole else "# check: until 98 % of the energy is in"
        )
        found["interval_ms"] = f"interval_ms = {_window(part.interval_ms)}  {mark}"
        template = self._model_file(part)
        if template != "{load_case}.csv":
            unsure = "" if part.case.is_sure else "  # check: chosen by its curves"
            found["model_file"] = f"model_file = {toml_value(template)}{unsure}"
        model = next(iter(part.results.values()))
        for key, files in (("layout", model), ("test_layout", part.case.tests[:1])):
            layouts = [one.layout for one in files]
            if all(layouts):
                named = toml_value(layouts if len(layouts) > 1 else layouts[0])
                found[key] = f"{key} = {named}  # check: {self.first.texts.units_of(layouts[0])}"
        sure = {test for test, one in self.first.book.items() if one.score >= LEAST}
        own = [one.test for one in part.partners if one.test in sure]
        if set(own) != sure:
            found["channels"] = f"channels = {toml_value(own)}"
        return found

    def _patterns(self, part: _Part) -> list[str]:
        others = {one.path for one in self.first.scan.found} - {one.path for one in part.case.tests}
        return patterns_of(self.first.folder, [one.path for one in part.case.tests], others)

    def _model_file(self, part: _Part) -> str:
        """Return the path below the folder of a release, the same for all releases."""
        names = []
        for release, files in part.results.items():
            path = files[0].relative if len(files) == 1 else files[0].relative.rpartition("/")[0]
            below = path.removeprefix(self.places[release]).removeprefix("/")
            shared = list(self.places.values()).count(self.places[release]) > 1
            names.append(below.replace(release, "{release}") if shared else below)
        name = names[0]
        for other in names[1:]:
            name = merged(name, other)
        return name.replace(part.name, "{load_case}")


_OWN: Final = ("name", "tests", "include")
"""Keys that belong to one load case."""


def _window(interval: tuple[float, float]) -> str:
    return f"[{interval[0]:g}, {interval[1]:g}]"


def _has_quiet(parts: Sequence[_Part]) -> bool:
    starts = [signal.start_s for part in parts for one in part.case.tests for signal in one.recording.signals]
    return max(starts) * 1e3 <= QUIET_MS[0]


def _release_folders(folder: Path, parts: Sequence[_Part], releases: Sequence[str]) -> dict[str, str]:
    """Return the folder that holds all results of each release, relative."""
    found = {}
    for release in releases:
        folders = [_folder_of(part.results[release]) for part in parts if release in part.results]
        found[release] = os.path.commonpath(folders).replace(os.sep, "/")
    return found


def pattern_of(found: Sequence[Found]) -> str:
    """Return a pattern that the paths of all files fit."""
    pattern = found[0].relative
    for one in found[1:]:
        start = len(os.path.commonprefix([pattern.partition("*")[0], one.relative]))
        end = len(os.path.commonprefix([pattern.rpartition("*")[2][::-1], one.relative[start:][::-1]]))
        pattern = f"{pattern[:start]}*{pattern[len(pattern) - end :] if end else ''}"
    if len({one.relative.count("/") for one in found}) == 1:
        # One star fits no slash: those within the free part are written.
        missing = found[0].relative.count("/") - pattern.count("/")
        pattern = pattern.replace("*", "*/" * missing + "*", 1) if missing > 0 else pattern
    return pattern


def _folder_of(files: Sequence[Found]) -> str:
    """Return the folder around the file of a run, or around the folder of several."""
    folder = files[0].relative.rpartition("/")[0]
    return (folder if len(files) == 1 else folder.rpartition("/")[0]) or "."


def merged(one: str, other: str) -> str:
    """Return a pattern that both names fit: what differs in the middle is free.

    Examples
    --------
    >>> merged("run0_thorax/curves.csv", "run1_thorax/curves.csv")
    'run*_thorax/curves.csv'
    """
    if one == other:
        return one
    start = len(os.path.commonprefix([one, other]))
    end = len(os.path.commonprefix([one[start:][::-1], other[start:][::-1]]))
    return f"{one[:start]}*{one[len(one) - end :]}"


def patterns_of(folder: Path, wanted: Sequence[Path], others: set[Path]) -> list[str]:
    """Return patterns that match the wanted paths and none of the others; the paths themselves where none do."""
    parents = {path.parent for path in wanted}
    if len(parents) == 1 and len(wanted) > 1:
        parent = parents.pop()
        names = [path.name for path in wanted]
        below = parent.relative_to(folder).as_posix()
        start = os.path.commonprefix(names)
        end = os.path.commonprefix([name[len(start) :][::-1] for name in names])[::-1]
        for pattern in ("*", f"{re.sub(r'[0-9]+$', '', start)}*{end}", f"{start}*{end}"):
            matched = set(parent.glob(pattern))
            if matched == set(wanted) and not any(mark in below for mark in "*?["):
                return [pattern if below == "." else f"{below}/{pattern}"]
    return [path.relative_to(folder).as_posix() for path in wanted]


def _has_code(test: str) -> bool:
    return is_channel_code(test) and ChannelCode(test).main_location in MAIN_LOCATIONS


def _settings(test: str, first: FirstCampaign) -> dict[str, Any]:
    """Return what is usual for a channel whose name is no code, by its words and unit."""
    if _has_code(test):
        return {}
    recording = next(one.recording for part in first.parts for one in part.case.tests if test in one.channels)
    said = channel_meaning(recording, test)
    usual = usual_settings(code_of(said))
    found: dict[str, Any] = {"region": usual.get("region", "other")}
    if "cfc" in usual:
        found["cfc"] = usual["cfc"]
    described = recording.channel_headers.get(test, {}).get("Name of the channel", "")
    return found | ({"title": described} if described else {})


_MAIN: Final = {
    "head": "HEAD",
    "neck": "NECK",
    "chest": "CHST",
    "spine": "THSP",
    "lumbar": "LUSP",
    "pelvis": "PELV",
    "femur": "FEMR",
    "knee": "KNEE",
    "tibia": "TIBI",
    "seat": "SEAT",
    "impactor": "PEND",
}
"""Main location of the codes for a place in words."""


def code_of(said: Meaning) -> str:
    """Return the channel code that says the same as words, as far as they go."""
    place = next((_MAIN[one] for one in sorted(said.places) if one in _MAIN), "????")
    kind = next((key for key, words in PHYSICAL_DIMENSIONS.items() if words == said.kind), "??")
    axis = said.axis[:1].upper() or "0"
    return f"??{place}??????{kind}{'R' if said.axis == 'resultant' else axis}?"


def ready_made(part: _Part) -> str:
    """Return the ready-made book that fits the places that are measured."""
    codes = [ChannelCode(one.test) for one in part.partners if _has_code(one.test)]
    places = {code.main_location for code in codes}
    if places & {"SEAT"} and places & {"LUSP", "PELV"}:
        return "seat"
    if "PEND" in places:
        if places & {"CHST", "THSP"}:
            return "thorax"
        if places & {"FEMR", "KNEE"}:
            return "knee"
        if "NECK" in places:
            return "neck-pendulum"
    return "head-drop" if places == {"HEAD"} else "usual"

"""A first campaign from the files in any folder: what belongs together, what is compared, and when."""

from __future__ import annotations

import math
import os
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.campaign.clues import View, common_interval
from correlate.campaign.grouping import Case, Grouping, group_all
from correlate.campaign.partners import Assignment, Proposal, assign
from correlate.campaign.scanning import Found, Scan, listed, scan
from correlate.campaign.unknown_texts import UnknownTexts
from correlate.errors import FormatError, SettingsError
from correlate.formats import Recording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from correlate.signal import Signal


SURE: Final = 0.9
"""Partners below this are marked in the file."""
LEAST: Final = 0.7
"""Partners below this are written as comments."""
QUIET_MS: Final = (-40.0, -5.0)
"""Window of the offset of a test, where the record begins early enough (common practice, no source)."""
ENERGY: Final = 0.98
"""Share of the energy of the slowest channel that is in when the event counts as over. Chosen here."""
AFTER: Final = 0.25
"""What is added behind the event, as a share of its length. Chosen here."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What the user states about the folder; what is left out is determined.

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
class Part:
    """A load case as the file has it: one file per release, or one folder of files that have layouts."""

    name: str
    case: Case
    results: dict[str, tuple[Found, ...]]
    partners: tuple[Proposal, ...]
    interval_ms: tuple[float, float]
    is_whole: bool


class FirstCampaign:
    """What was found in a folder, and the campaign file that follows from it.

    Parameters
    ----------
    folder
        With tests and results.
    told
        What the user states about it.

    Raises
    ------
    FormatError
        There is no test, no result, or no partner in it.
    SettingsError
        A pattern matches no file that can be read.
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
        if self.texts.tables:
            self._read_texts_again()
        self.assignments: dict[str, Assignment] = assign(
            {case.name: _views(case) for case in self.grouping.cases if case.results}
        )

    def _matches(self, pattern: str) -> set[Path]:
        found = set(self.folder.glob(pattern))
        if not found & {one.path for one in self.scan.found}:
            raise SettingsError(
                f"'{pattern}' matches no file that can be read",
                where=str(self.folder),
                remedy="correct the pattern",
            )
        return found

    def _check(self) -> None:
        for found, words in ((self.tests, "test"), (self.results, "model result")):
            if not found:
                seen = f"; {len(self.scan.found)} recordings can be read" if self.scan.found else ""
                refused = next(iter(self.scan.passed_over.items()), None)
                reason = f"; '{refused[0]}' could not be read: {refused[1]}" if refused else ""
                raise FormatError(
                    f"no {words} was found in this folder{seen}{reason}",
                    where=str(self.folder),
                    remedy="name another folder, or give patterns with --tests and --results",
                )

    def _check_cases(self) -> None:
        if not any(case.results for case in self.grouping.cases):
            raise FormatError(
                "no result can be assigned to a load case",
                where=str(self.folder),
                remedy="give --load-case NAME=PATTERN for each load case; it must match tests and results",
            )

    def _read_texts_again(self) -> None:
        """Read the texts again, now that unit system and marks of a normal end are known from all of them."""
        units = self.told.units
        if not units and self.texts.system:
            units = self._likely_units()
        self.texts = UnknownTexts(units, self.texts.ends)
        again = tuple(_read_again(case, self.texts) for case in self.grouping.cases)
        self.grouping = replace(self.grouping, cases=again)

    def _likely_units(self) -> str:
        """Return the unit system in which results are as large as the tests."""
        odds = {}
        for system in self.texts.systems:
            trial = UnknownTexts(system, self.texts.ends)
            cases = [_read_again(_first_release(case), trial) for case in self.grouping.cases if case.results]
            assigned = assign({case.name: _views(case) for case in cases})
            odds[system] = sum(one.odds for assignment in assigned.values() for one in assignment.partners)
        return max(odds, key=lambda system: odds[system])

    @cached_property
    def parts(self) -> tuple[Part, ...]:
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
                        Part(
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
                "no channel of the results is similar enough to a channel of the tests",
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

    @property
    def assumptions(self) -> list[str]:
        """The assumptions, one sentence each."""
        said = [f"tests: {listed(self.tests)}", f"results: {listed(self.results)}"]
        for case in self.grouping.cases:
            releases = ", ".join(case.results) or "none"
            unsure = "" if case.is_sure else ", assigned by their curves only"
            said.append(
                f"load case {case.name}: repeats by {case.told_by}: {len(case.tests)}; results of "
                f"{releases}{unsure}"
            )
            said += [
                f"not finished, so not rated: {one.relative}, {one.recording.unfinished.what}"
                for files in case.results.values()
                for one in files
                if one.recording.unfinished is not None
            ]
            said += _cut_short(case)
        for name, questions in self.texts.questions.items():
            said += [f"layout {name}: {question}" for question in questions]
        unsure_partners = [one for one in self.book.values() if one.score < SURE]
        said += [
            f"partner for {one.test}: '{one.model}', confidence {one.score:.2f}" for one in unsure_partners
        ]
        said += [
            f"sign of {one.test}: '{one.model}' has it in one load case or release and not in another; "
            f"assumed: {one.sign:+d}"
            for one in self.book.values()
            if not one.sign_agrees
        ]
        said += [f"no partner for {test}: {reason}" for test, reason in self.alone.items()]
        said += [
            f"cannot be used: {channel.name} of {one.relative}, {channel.error.what}"
            for one in (*self.tests, *self.results)
            for channel in one.recording.set_aside
        ]
        said += [f"not assigned to a load case: {one.relative}" for one in self.grouping.left]
        return [*said, *(f"not read: {name}, {reason}" for name, reason in self.scan.passed_over.items())]


LEAST_SHARE: Final = 0.9
"""Of the longest result of a load case; one that ends before it is named. Chosen here."""


def _cut_short(case: Case) -> list[str]:
    """Name the result that ends the interval of a load case long before the others end."""
    ends = {
        one.relative: min(signal.end_s for signal in one.recording.signals)
        for files in _finished(case)
        for one in files
    }
    first, last = (pick(ends, key=lambda name: ends[name], default="") for pick in (min, max))
    if not first or ends[first] >= LEAST_SHARE * ends[last]:
        return []
    return [
        (
            f"interval of {case.name}: {first} ends at {1e3 * ends[first]:.4g} ms already, {last} at "
            f"{1e3 * ends[last]:.4g} ms; is its run finished?"
        )
    ]


def _read_again(case: Case, texts: UnknownTexts) -> Case:
    """Read what has a layout by the layouts of other texts."""
    results = {release: tuple(_again(one, texts) for one in files) for release, files in case.results.items()}
    return replace(case, tests=tuple(_again(one, texts) for one in case.tests), results=results)


def _first_release(case: Case) -> Case:
    return replace(case, results=dict(list(case.results.items())[:1]))


def _again(one: Found, texts: UnknownTexts) -> Found:
    if not one.layout:
        return one
    recording = texts.read(one.path)
    if recording is None:
        return one
    return replace(one, recording=recording, layout=texts.name_of(recording))


def _views(case: Case) -> list[View]:
    tests = tuple(one.recording for one in case.tests)
    return [View(tests=tests, model=_joined(files)) for files in _finished(case)]


def _finished(case: Case) -> list[tuple[Found, ...]]:
    """Return the results of runs that are finished, all if none is: a part must not decide for the whole."""
    runs = list(case.results.values())
    return [files for files in runs if all(one.recording.unfinished is None for one in files)] or runs


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
    """Return the results of a load case; by file, with what its name adds, where not read together."""
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

    It begins with the record of the results or at zero. Its end is when nearly all of the energy of the
    slowest test channel is in, and a quarter more, at a multiple of 5 ms.
    """
    recordings = [one.recording for one in case.tests]
    recordings += [one.recording for files in _finished(case) for one in files]
    whole = common_interval(recordings)
    if whole is None:
        raise FormatError(
            "tests and results do not overlap in time",
            where=f"load case {case.name}",
            remedy="check the time units",
        )
    start_ms, end_ms = (_rounded(1e3 * time) for time in whole)
    ends = [
        _end_ms(signal, whole) for recording in recordings[: len(case.tests)] for signal in recording.signals
    ]
    end = 5.0 * math.ceil((start_ms + (1.0 + AFTER) * (max(ends) - start_ms)) / 5.0)
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

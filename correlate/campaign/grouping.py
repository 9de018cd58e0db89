"""Which tests are repeats of one load case, and which result belongs to which release and load case.

Names say it in many ways, so several ways of taking them apart are tried. Each is judged by what must hold:
repeats have the same channels and look alike, and every release has one result for each load case.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from correlate.campaign.scanning import Found
    from correlate.signal import Signal

    Array = NDArray[np.float64]

_REPEAT: Final = re.compile(
    r"(?:^|[ _,-]+|\.(?=[A-Za-z]))"
    r"(?:repeat|replicate|rep|run|test|versuch|trial|shot|nr|no|r|t|w)?[ _.#-]*0*\d{1,4}$",
    re.IGNORECASE,
)
"""How the number of a repeat stands at the end of a name."""
_TOKEN: Final = re.compile(r"\d+(?:\.\d+)?|[a-zäöüß]+", re.IGNORECASE)
_NOT_IN_NAMES: Final = re.compile(r"[^\w.+-]+")


@dataclass(frozen=True, kw_only=True)
class Case:
    """One load case.

    Attributes
    ----------
    name
        Name for the campaign file.
    tests
        Its repeats.
    results
        Result by release; several where a run writes several files.
    told_by
        What the repeats were distinguished by.
    is_sure
        False where the names of the results did not say which load case they are for.
    """

    name: str
    tests: tuple[Found, ...]
    results: Mapping[str, tuple[Found, ...]]
    told_by: str
    is_sure: bool = True


@dataclass(frozen=True, kw_only=True)
class Grouping:
    """Everything in its place.

    Attributes
    ----------
    cases
        Load cases with their results.
    releases
        Names, in order.
    left
        Files that found no place.
    """

    cases: tuple[Case, ...]
    releases: tuple[str, ...]
    left: tuple[Found, ...]


def tokens(text: str) -> tuple[str, ...]:
    """Return the words and numbers of a name; ``4p3`` is a number too.

    Examples
    --------
    >>> tokens("run_Thorax-4p3_007")
    ('run', 'thorax', '4.3', '7')
    """
    text = re.sub(r"(?<=\d)p(?=\d)", ".", text)
    found = [match.lower() for match in _TOKEN.findall(text)]
    return tuple(str(float(one)).removesuffix(".0") if one[0].isdigit() else one for one in found)


def group_tests(tests: Sequence[Found], given: Mapping[str, set[Path]]) -> tuple[dict[str, list[Found]], str]:
    """Return the repeats by load case, and what they were distinguished by.

    Parameters
    ----------
    tests
        All of them.
    given
        Paths of load cases that somebody named; their tests are left to them.
    """
    named: dict[str, list[Found]] = {}
    rest = []
    for one in tests:
        owner = next((name for name, paths in given.items() if one.path in paths), None)
        if owner is None:
            rest.append(one)
        else:
            named.setdefault(owner, []).append(one)
    if not rest:
        return named, "--load-case"
    ways = [(words, _by(rest, label)) for words, label in _LABELS]
    possible = [(words, groups) for words, groups in ways if groups]
    words, groups = max(possible, key=lambda way: _coherence(list(way[1].values())))
    return {**named, **groups}, words


def _folder(one: Found) -> str:
    parts = one.relative.split("/")
    return parts[-2] if len(parts) > 1 else ""


def _stem(one: Found) -> str:
    name = one.relative.rsplit("/", 1)[-1]
    return name if one.path.is_dir() else re.sub(r"\.[A-Za-z]\w{0,4}$", "", name)


def without_repeat(name: str) -> str:
    """Return a name without the number of a repeat at its end.

    Examples
    --------
    >>> [without_repeat(name) for name in ("thorax_4.3_R1", "neck-test-02", "T-017", "thorax_4.3")]
    ['thorax_4.3', 'neck', '', 'thorax_4.3']
    """
    shorter = _REPEAT.sub("", name)
    return re.sub(r"[ _-]+(?:test|run|rep|repeat|r)$", "", shorter, flags=re.IGNORECASE).strip(" _,-")


def _folder_of_repeats(one: Found) -> str:
    """Return the innermost folder that says more than the number of a repeat."""
    folders = one.relative.split("/")[:-1]
    return next((name for name in map(without_repeat, reversed(folders)) if name), "")


def _title(one: Found) -> str:
    return without_repeat(one.recording.title)


def _kind_of_test(one: Found) -> str:
    return one.recording.details.get("Type of the test", "")


_LABELS: Final[tuple[tuple[str, Callable[[Found], str]], ...]] = (
    ("folders", _folder),
    ("folders of repeats", _folder_of_repeats),
    ("file names", lambda one: without_repeat(_stem(one))),
    ("titles", _title),
    ("types of the test", _kind_of_test),
    ("folders and file names", lambda one: f"{_folder(one)}-{without_repeat(_stem(one))}"),
    ("whole file names", _stem),
)
"""What may name the load case of a test. The first wins where several tell the same."""


def _by(tests: Sequence[Found], label: Callable[[Found], str]) -> dict[str, list[Found]]:
    """Return tests by their label; nothing where one has none or channels differ within a group."""
    groups: dict[str, list[Found]] = {}
    for one in tests:
        name = _NOT_IN_NAMES.sub("-", label(one)).strip("-_.")
        if not name:
            return {}
        groups.setdefault(name, []).append(one)
    return groups


def _coherence(groups: list[list[Found]]) -> float:
    """Judge a grouping: the scatter within groups against that between them, and the size of groups."""
    sizes = [_sizes(group) for group in groups]
    if any(one is None for one in sizes):
        return -10.0
    arrays = [one for one in sizes if one is not None]
    within = [np.abs(one - one.mean(axis=0)).mean() for one in arrays if len(one) > 1]
    scatter = float(np.mean(within)) if within else LIKELY_SCATTER
    centres = [one.mean(axis=0) for one in arrays]
    gaps = []
    for index, centre in enumerate(centres):
        near = [
            float(np.abs(centre - other).mean())
            for place, other in enumerate(centres)
            if place != index and other.shape == centre.shape and _same(groups[index], groups[place])
        ]
        gaps += [min(near)] if near else []
    gap = float(np.min(gaps)) if gaps else 10 * LIKELY_SCATTER
    alone = sum(1 for group in groups if len(group) == 1) / len(groups)
    return float(np.log(max(gap, 1e-3) / max(scatter, 0.02))) - 1.5 * alone - max(0.0, 20.0 * (scatter - 0.2))


_NOTHING: Final = 1e-12
LIKELY_SCATTER: Final = 0.05
"""Of repeats, as a share of their size (common practice, no source)."""


def _same(one: list[Found], other: list[Found]) -> bool:
    return one[0].channels == other[0].channels


def _sizes(group: list[Found]) -> Array | None:
    """Return the logarithm of the size of each usable channel, one row per test; None for unlike channels."""
    if len({one.channels for one in group}) > 1:
        return None
    usable = sorted(set.intersection(*(set(one.recording.channel_names) for one in group)))
    return np.array([[_size(one.recording.channel(name)) for name in usable] for one in group])


def _size(signal: Signal) -> float:
    largest = np.percentile(np.abs(signal.samples - np.median(signal.samples)), 99.5)
    return float(np.log(largest * parse_unit(signal.unit).factor + _NOTHING))


@dataclass(frozen=True)
class _Run:
    """The files of one run, and the words of its path and title that do not name the release."""

    files: tuple[Found, ...]
    words: tuple[str, ...] = ()

    @property
    def parts(self) -> list[str]:
        """Path of the file without its ending, or of the folder of several, in parts."""
        *folders, _ = self.files[0].relative.split("/")
        return folders if len(self.files) > 1 else [*folders, _stem(self.files[0])]

    @property
    def said(self) -> tuple[str, ...]:
        """Words of the titles."""
        return tokens(" ".join(one.recording.title for one in self.files))


Way = dict[str, list[_Run]]
"""One way of taking paths apart: runs by release."""
Matched = dict[tuple[str, str], tuple[_Run, float]]
"""Run of a release and a load case, and how well the names agree."""


def group_all(
    tests: Sequence[Found],
    results: Sequence[Found],
    given: Mapping[str, set[Path]],
    likeness: Callable[[Sequence[Found], Sequence[Found]], float],
) -> Grouping:
    """Put tests and results into load cases and releases.

    Parameters
    ----------
    tests, results
        What was found, one of each at least.
    given
        Paths by load case, where somebody named them.
    likeness
        How well the curves of tests and of a run agree; asked where names do not say it.
    """
    groups, told_by = group_tests(tests, given)
    runs = {"apart": [_Run((one,)) for one in results], "together": _runs(results)}
    ways = [way for own in runs.values() for way in _ways(own) if way]
    judged = [(_matched(way, groups, _named(groups, given)), way) for way in ways]
    matched, way = max(judged, key=lambda one: _worth(one[0], one[1], groups))
    is_sure = all(score > 0 for _, score in matched.values())
    if not is_sure:
        matched = _matched(way, groups, lambda run, name: likeness(groups[name], run.files))
    cases = tuple(
        Case(
            name=name,
            tests=tuple(repeats),
            results={
                release: matched[release, name][0].files
                for release in sorted(way)
                if (release, name) in matched
            },
            told_by=told_by,
            is_sure=is_sure,
        )
        for name, repeats in groups.items()
    )
    placed = {one.path for case in cases for files in case.results.values() for one in files}
    used = [release for release in sorted(way) if any(release in case.results for case in cases)]
    return Grouping(
        cases=cases, releases=tuple(used), left=tuple(one for one in results if one.path not in placed)
    )


def _runs(results: Sequence[Found]) -> list[_Run]:
    """Return runs: files that lie together and are called the same in other folders are of one run."""
    names = Counter(one.relative.rsplit("/", 1)[-1] for one in results)
    together: dict[str, list[Found]] = {}
    for one in results:
        folder, _, name = one.relative.rpartition("/")
        together.setdefault(folder if folder and names[name] > 1 else one.relative, []).append(one)
    runs = []
    for files in together.values():
        if len({one.channels for one in files}) == len(files):
            runs.append(_Run(tuple(files)))
        else:
            runs += [_Run((one,)) for one in files]
    return runs


def _ways(runs: Sequence[_Run]) -> list[Way]:
    """Return the ways of finding the release in a path: a folder, the end or the beginning of a name."""
    depth = min(len(run.parts) for run in runs)
    ways = [_way_of_folders(runs, level) for level in reversed(range(depth - 1))]
    if all(len(run.files) > 1 for run in runs):
        ways.append(_way_of_folders(runs, -1))
    ways += [_way_of_names(runs, -1), _way_of_names(runs, 0)]
    whole: Way = {"model": [_Run(run.files, (*tokens(" ".join(run.parts)), *run.said)) for run in runs]}
    return [*ways, whole]


def _way_of_folders(runs: Sequence[_Run], level: int) -> Way:
    """Return the way in which the part of the path at a level is the release."""
    way: Way = {}
    for run in runs:
        rest = [*run.parts]
        release = rest.pop(level)
        way.setdefault(_clean(release), []).append(_Run(run.files, (*tokens(" ".join(rest)), *run.said)))
    return way


def _way_of_names(runs: Sequence[_Run], place: int) -> Way:
    """Return the way in which the last or first word of the file name is the release."""
    way: Way = {}
    for run in runs:
        *folders, name = run.parts
        words = re.split(r"[ _-]+", name)
        if len(words) < 2:
            return {}
        release = words.pop(place)
        rest = (*tokens(" ".join([*folders, "_".join(words)])), *run.said)
        way.setdefault(_clean(release), []).append(_Run(run.files, rest))
    return way


def _clean(name: str) -> str:
    return _NOT_IN_NAMES.sub("-", name).strip("-_.") or "model"


def _named(
    groups: Mapping[str, Sequence[Found]], given: Mapping[str, set[Path]]
) -> Callable[[_Run, str], float]:
    """Return how well the words of a run name a load case, in [0, 1]; 2 where somebody said so."""
    words = {name: _words_of(name, tests) for name, tests in groups.items()}
    spread = Counter(word for found in words.values() for word in found)

    def named(run: _Run, name: str) -> float:
        owner = next((one for one, paths in given.items() if any(f.path in paths for f in run.files)), None)
        if owner is not None:
            return 2.0 * (owner == name)
        weights = {word: 1.0 if spread[word] == 1 else 0.1 for word in words[name]}
        hits = sum(weight * _said(word, run.words) for word, weight in weights.items())
        if len(words) == 1:
            return 0.5 + 0.5 * hits / max(sum(weights.values()), 1.0)
        own = max((_own(other, run, words, spread) for other in words if other != name), default=0.0)
        return max(0.0, hits - own) / (1.0 + abs(hits))

    return named


def _own(other: str, run: _Run, words: Mapping[str, set[str]], spread: Counter[str]) -> float:
    """Return how much of a run's words belongs to another load case alone."""
    return sum(_said(word, run.words) for word in words[other] if spread[word] == 1)


def _words_of(name: str, tests: Sequence[Found]) -> set[str]:
    """Return the words that all tests of a load case share, in paths, titles and the kind of test."""
    each = []
    for one in tests:
        folders = one.relative.rpartition("/")[0].replace("/", " ")
        said = (folders, without_repeat(_stem(one)), _title(one), _kind_of_test(one))
        each.append(set(tokens(" ".join(said))))
    return set.intersection(*each) | set(tokens(name))


def _said(word: str, words: Sequence[str]) -> float:
    if word in words:
        return 1.0
    is_begun = any(
        min(len(word), len(one)) >= 3 and (word.startswith(one) or one.startswith(word)) for one in words
    )
    return 0.8 if is_begun and not word[0].isdigit() else 0.0


def _matched(way: Way, groups: Mapping[str, Sequence[Found]], agree: Callable[[_Run, str], float]) -> Matched:
    """Assign the runs of each release to load cases, one to one."""
    names = list(groups)
    matched: Matched = {}
    for release, runs in way.items():
        table = np.array([[agree(run, name) for name in names] for run in runs])
        from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - slow to load

        rows, columns = linear_sum_assignment(table, maximize=True)
        for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
            matched[release, names[column]] = (runs[row], float(table[row, column]))
    return matched


def _worth(matched: Matched, way: Way, groups: Mapping[str, Sequence[Found]]) -> float:
    """Judge a way: names should agree, every run find a load case and every load case a run.

    Releases are called differently from load cases, and what is called alike is in each of them.
    """
    runs = sum(len(own) for own in way.values())
    words = set().union(*(_words_of(name, tests) for name, tests in groups.items()))
    # Files that lie together and are called like load cases are runs of their own.
    apart = sum(
        len(run.files) > 1 and any(words & {*tokens(_stem(one))} for one in run.files)
        for own in way.values()
        for run in own
    )
    agreed = sum(score for _, score in matched.values())
    silent = sum(1 for _, score in matched.values() if score <= 0)
    empty = len(way) * len(groups) - len(matched)
    named = sum(any(len(word) > 2 and word in words for word in tokens(release)) for release in way)
    lost = 3.0 * apart + 2.0 * (runs - len(matched)) + empty + silent
    return (agreed - lost) / runs - named / len(way) + _likeness_of_releases(way)


def _likeness_of_releases(way: Way) -> float:
    """Return the share of words that two releases have in common, on average; half for a single one."""
    words = [{word for run in runs for word in run.words} for runs in way.values()]
    shares = [len(one & other) / max(len(one | other), 1) for one, other in combinations(words, 2)]
    return float(np.mean(shares)) if shares else 0.5

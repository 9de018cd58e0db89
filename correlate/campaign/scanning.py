"""What lies in a folder: recordings that can be read, and whether each is a test or a result of a model."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import is_channel_code
from correlate.errors import CorrelateError, FormatError
from correlate.files import absent
from correlate.formats import read
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from correlate.formats import Recording

    Describe = Callable[[Path], Recording | None]
    """Reads a text that no format reads, after finding out how it is laid out; None where it cannot."""


MOST_FILES: Final = 5_000
"""A folder with more files than this is no project folder."""
OTHER_KINDS: Final = frozenset(
    f".{ending}"
    for endings in (
        ("pdf", "doc", "docx", "xls", "xlsx", "ppt", "pptx", "html", "htm", "md", "log"),
        ("png", "jpg", "jpeg", "gif", "svg", "bmp", "tif", "tiff", "avi", "mp4", "mov"),
        ("toml", "json", "xml", "yaml", "yml", "ini", "py", "sh", "deck"),
        ("sqlite", "db", "gz", "7z", "tar"),
    )
    for ending in endings
)
"""Endings of files that hold no curves, or none that can be read."""
TEST_WORDS: Final = frozenset(
    ("test", "tests", "lab", "laboratory", "hardware", "physical", "experiment", "versuch", "versuche")
)
MODEL_WORDS: Final = frozenset(
    ("model", "models", "sim", "simulation", "result", "results", "run", "runs", "release", "releases")
) | {"solver", "output", "out", "virtual"}
"""Words in paths (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Found:
    """A recording and where it lies.

    Attributes
    ----------
    path
        File or test folder.
    relative
        The same below the folder that was searched, with forward slashes.
    recording
        What was read.
    layout
        Name of the layout it was read by; empty where it describes itself.
    """

    path: Path
    relative: str
    recording: Recording
    layout: str = ""

    @property
    def channels(self) -> frozenset[str]:
        """Names of the channels, usable or not; equal for recordings of one kind."""
        return frozenset((*self.recording.channel_names, *(one.name for one in self.recording.set_aside)))


@dataclass(frozen=True, kw_only=True)
class Scan:
    """A folder that was searched.

    Attributes
    ----------
    folder
        Which.
    found
        What could be read, by path.
    passed_over
        What looked as if it held curves and could not be read, with the reason.
    """

    folder: Path
    found: tuple[Found, ...]
    passed_over: dict[str, str] = field(default_factory=dict)

    @cached_property
    def evidence(self) -> dict[frozenset[str], float]:
        """How much speaks for a test, above zero, or for a result, by the channels of a recording.

        Recordings with the same channels are of one kind.
        """
        gathered: dict[frozenset[str], list[float]] = {}
        for one in self.found:
            gathered.setdefault(one.channels, []).append(_evidence(one))
        return {channels: float(np.mean(values)) for channels, values in gathered.items()}

    def split(self, tests: str = "", results: str = "") -> tuple[list[Found], list[Found]]:
        """Return tests and results; patterns of paths decide where they are given."""
        wanted = {"test": self._matches(tests), "result": self._matches(results)}
        parts: dict[str, list[Found]] = {"test": [], "result": []}
        for one in self.found:
            if tests or results:
                kind = next((kind for kind, paths in wanted.items() if one.path in paths), "")
                if not kind and not (tests and results):
                    other = "result" if tests else "test"
                    kind = other if (self.evidence[one.channels] < 0) == (other == "result") else ""
            else:
                kind = "test" if self.evidence[one.channels] > 0 else "result"
            if kind:
                parts[kind].append(one)
        return parts["test"], parts["result"]

    def _matches(self, pattern: str) -> set[Path]:
        return set(self.folder.glob(pattern)) if pattern else set()


def scan(folder: Path, describe: Describe) -> Scan:
    """Read everything in a folder and the folders in it that can be read.

    Raises
    ------
    FormatError
        The folder cannot be listed or holds too many files.
    """
    found: list[Found] = []
    passed: dict[str, str] = {}
    for path in _candidates(folder):
        relative = path.relative_to(folder).as_posix()
        if path.is_symlink():
            passed[relative] = "links are not followed; copy what it leads to, or name its folder"
            continue
        try:
            found.append(Found(path, relative, read(path)))
        except CorrelateError as error:
            described = describe(path) if path.is_file() else None
            if described is not None:
                layout = str(next(iter(described.signals)).history[0].settings.get("layout", ""))
                found.append(Found(path, relative, described, layout))
            elif path.is_file():
                passed[relative] = error.what
    found = [one for one in found if len(one.recording) > 0]
    return Scan(folder=folder, found=tuple(sorted(found, key=lambda one: one.relative)), passed_over=passed)


def _candidates(folder: Path) -> Iterator[Path]:
    """Yield test folders whole, and files that may hold curves."""
    try:
        entries = sorted(folder.iterdir())
    except FileNotFoundError as error:
        raise absent(folder) from error
    except OSError as error:
        raise FormatError(
            f"cannot be read ({error.strerror})", where=str(folder), remedy="name a folder"
        ) from error
    if len(entries) > MOST_FILES:
        raise FormatError(
            f"holds {len(entries)} files", where=str(folder), remedy="name the folder of a project"
        )
    for entry in entries:
        if entry.name.startswith("."):
            continue
        if entry.is_symlink():
            yield entry
            continue
        if entry.is_dir():
            is_test = any(one.suffix.lower() == ".mme" for one in entry.iterdir())
            yield from [entry] if is_test else _candidates(entry)
        elif entry.suffix.lower() not in OTHER_KINDS:
            yield entry


def _evidence(one: Found) -> float:
    """Sum what speaks for a test (above zero) or for a result. The weights are chosen here."""
    recording = one.recording
    total = 0.0
    if recording.format == "ISO/TS 13499":
        total += 2.0
    if any(is_channel_code(name) for name in recording.channel_names):
        total += 1.5
    words = set(re.findall(r"[a-z]+", one.relative.lower()))
    total += 1.0 * bool(words & TEST_WORDS) - 1.0 * bool(words & MODEL_WORDS)
    starts = [signal.start_s for signal in recording.signals]
    total += 1.5 if min(starts) < -1e-3 else -1.0
    if all(parse_unit(signal.unit).dimension == "a plain number" for signal in recording.signals):
        total -= 1.0
    # Noise: what a recorder stores is never smooth or still, not even before the event.
    return total + (1.5 if _is_noisy(recording) else -1.5)


def _is_noisy(recording: Recording) -> bool:
    """Say whether most channels change direction at more than a tenth of their samples."""
    shares = []
    for signal in recording.signals:
        steps = np.diff(signal.samples)
        turns = np.count_nonzero(steps[1:] * steps[:-1] < 0)
        shares.append(turns / max(len(signal) - 2, 1))
    return float(np.median(shares)) > 0.1


def listed(found: Iterable[Found]) -> str:
    """Return the paths, shortened to what is worth saying."""
    names = [one.relative for one in found]
    return ", ".join(names) if len(names) <= 3 else f"{names[0]} … {names[-1]} ({len(names)})"

"""Conditioned curves of tests, kept between runs, so that scoring a new release reads only its own files.

They are in the cache folder of the user, never in the project, because a received project could contain
forged curves. The key of an entry is the hash of everything that its curves depend on. An entry is used only
if its bytes have the hash stated in it; otherwise the test is read. The folder can be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import os
import platform
import sys
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import CorrelateError
from correlate.evaluation.curves import Curve, Missing
from correlate.file_hashes import file_hashes
from correlate.files import files_of
from correlate.flag import Flag
from correlate.formats.archive import SAMPLE_TYPE, signal_from, signal_words
from correlate.formats.recording import SetAside
from correlate.formats.registry import list_formats
from correlate.limits import LARGEST_RECORD, MEGABYTE, current_limits, most_cached_megabytes
from correlate.plain_files import json_content, open_plain, whole_bytes
from correlate.private_folder import project_cache_folder
from correlate.temporary import temporary_file
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.conditioning.align import Treatment
    from correlate.formats.columns import ColumnLayout
    from correlate.signal import Signal

_ERRORS: Final = sys.modules[CorrelateError.__module__]
FOLDER: Final = "curves"
"""In the cache folder of a project."""
SUFFIX: Final = ".curves"
_DIGEST: Final = hashlib.sha256().digest_size
_LENGTH: Final = 8
_DAMAGE: Final = (OSError, ValueError, LookupError, TypeError, AttributeError, CorrelateError)
"""Raised by a damaged entry whose hash is nevertheless correct, such as one of another program."""


@dataclass(frozen=True, slots=True, eq=False)
class KeptTest:
    """What an evaluation needs of one test.

    Attributes
    ----------
    channels
        Names of all channels of its recording that can be used.
    set_aside
        Channels of the recording that cannot be used.
    curves
        Conditioned curve of every planned channel, or why there is none, by the name of the channel.
    """

    channels: tuple[str, ...]
    set_aside: tuple[SetAside, ...]
    curves: Mapping[str, Curve | Missing]


@dataclass(frozen=True, slots=True)
class TestKey:
    """Key of an entry.

    Attributes
    ----------
    path
        Path of the test.
    contents
        Name and hash of every file of it.
    sha256
        Hash of everything that its conditioned curves depend on.
    """

    path: Path
    contents: tuple[tuple[str, str], ...]
    sha256: str


def key_of_test(
    path: Path,
    contents: tuple[tuple[str, str], ...],
    layout: ColumnLayout | None,
    how: str,
) -> TestKey:
    """Return the key of the conditioned curves of a test.

    Parameters
    ----------
    path
        Path of the test, as in the history of its curves.
    contents
        Name and hash of every file of it.
    layout
        Layout of the test.
    how
        From :func:`conditioning_text`.
    """
    parts = (str(path), contents, layout, how, current_limits(), _program())
    return TestKey(path, contents, hashlib.sha256(repr(parts).encode()).hexdigest())


def conditioning_text(plans: Sequence[tuple[str, Treatment]]) -> str:
    """Return a text that identifies how the channels of a load case are conditioned.

    Parameters
    ----------
    plans
        Each channel, and its conditioning.
    """
    return repr(tuple(plans))


class KeptCurves:
    """The conditioned tests of one project in the cache folder; without such a folder, none.

    Parameters
    ----------
    project
        Its folder.
    """

    def __init__(self, project: Path) -> None:
        self._project = project

    def find(self, key: TestKey) -> KeptTest | None:
        """Return the entry of a key; None if there is no valid one, and while everything is verified."""
        if file_hashes(self._project).is_verifying or self._folder is None:
            return None
        place = self._place(self._folder, key)
        try:
            content = whole_bytes(place, most=LARGEST_RECORD)
            found = _unpacked(key.sha256, content)
            os.utime(place)  # the least recently used ones are removed first
        except _DAMAGE:
            return None
        return found

    def keep(self, key: TestKey, test: KeptTest) -> None:
        """Keep the curves of a test, if its files still have the bytes of the key.

        Curves that cannot be written, or not be restored exactly, are not kept.
        """
        if self._folder is None or _fresh_contents(key.path) != key.contents:
            return
        place = self._place(self._folder, key)
        with suppress(*_DAMAGE):
            content = _packed(key.sha256, test)
            if len(content) > LARGEST_RECORD:
                return
            place.parent.mkdir(mode=0o700, exist_ok=True)
            # The hash detects an entry that a crash left half-written, so there is no wait for the disk.
            with temporary_file(place) as (beside, stream):
                stream.write(content)
                stream.close()
                beside.replace(place)

    def remove_oldest(self) -> None:
        """Remove the least recently used entries of all projects until the rest is small enough."""
        if self._folder is None:
            return
        found = sorted(_entries(self._folder.parent))
        surplus = sum(size for _, size, _ in found) - most_cached_megabytes() * MEGABYTE
        for _, size, path in found:
            if surplus <= 0:
                return
            surplus -= size
            with suppress(OSError):
                Path(path).unlink()

    @cached_property
    def _folder(self) -> Path | None:
        """The cache folder of the project; determined once, because the check of its owner is slow."""
        return project_cache_folder(self._project)

    @staticmethod
    def _place(folder: Path, key: TestKey) -> Path:
        return folder / FOLDER / f"{key.sha256}{SUFFIX}"


def _fresh_contents(path: Path) -> tuple[tuple[str, str], ...]:
    """Return name and hash of every file of a test, from its bytes as they are now; empty if unreadable."""
    found = []
    try:
        for file in files_of(path):
            with open_plain(file) as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
            found.append((file.relative_to(path).as_posix(), digest))
    except OSError:
        return ()
    return tuple(found)


@lru_cache(maxsize=1)
def _program() -> tuple[str, ...]:
    """Return everything in program and machine that may change the bits of a curve, or how a file is read."""
    return (
        VERSION,
        _code(),
        *(f"{name} {version(name)}" for name in ("numpy", "numba", "llvmlite")),
        platform.machine(),
        _processor(),
        *(one.name for one in list_formats()),
    )


def _code() -> str:
    """Return the hash of the modules of this program, so that changed code does not use older entries."""
    digest = hashlib.sha256()
    package = Path(__file__).parents[1]
    for folder in (package, *(package / name for name in ("conditioning", "evaluation", "formats"))):
        for file in sorted(folder.glob("*.py") if folder == package else folder.rglob("*.py")):
            digest.update(file.relative_to(package).as_posix().encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()


def _processor() -> str:
    """Return the model of the processor: libraries choose their instructions by it."""
    with suppress(OSError), Path("/proc/cpuinfo").open(encoding="utf-8", errors="replace") as lines:
        return next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "")
    return platform.processor()


def _entries(folder: Path) -> Iterable[tuple[float, int, str]]:
    """Yield the time of last use, the size and the path of each entry of all projects."""
    with suppress(OSError), os.scandir(folder) as projects:
        for project in projects:
            with suppress(OSError), os.scandir(Path(project.path) / FOLDER) as files:
                for file in files:
                    if file.name.endswith(SUFFIX):
                        seen = file.stat(follow_symlinks=False)
                        yield seen.st_mtime, seen.st_size, file.path


# Bytes of an entry: hash of the key and of all that follows | lengths of two texts | texts in JSON | samples.
# The first text contains what a rating needs, the second what only the signals need.


def _packed(key: str, test: KeptTest) -> bytes:
    curves = {name: one for name, one in test.curves.items() if isinstance(one, Curve)}
    needed = {
        "channels": test.channels,
        "set_aside": [[one.name, *_error_words(one.error)] for one in test.set_aside],
        "curves": {
            name: [
                len(one),
                one.start_s,
                one.step_s,
                one.origins,
                one.words,
                [[flag.name, flag.sentence, dict(flag.figures)] for flag in one.flags],
            ]
            for name, one in curves.items()
        },
        "missing": {
            name: _error_words(one.error) for name, one in test.curves.items() if isinstance(one, Missing)
        },
    }
    texts = [
        json.dumps(words).encode()
        for words in (needed, {name: signal_words(one.signal) for name, one in curves.items()})
    ]
    lengths = b"".join(len(text).to_bytes(_LENGTH, "little") for text in texts)
    samples = b"".join(one.samples.astype(SAMPLE_TYPE).tobytes() for one in curves.values())
    body = b"".join([lengths, *texts, samples])
    return _digest(key, body) + body


def _unpacked(key: str, content: bytes) -> KeptTest:
    body = memoryview(content)[_DIGEST:]
    if _digest(key, body) != content[:_DIGEST]:
        raise ValueError("the bytes do not have the hash stated in them")
    first = _DIGEST + 2 * _LENGTH
    second = first + int.from_bytes(body[:_LENGTH], "little")
    start = second + int.from_bytes(body[_LENGTH : 2 * _LENGTH], "little")
    words = json_content(content[first:second])
    signals = _KeptSignals(content[second:start])
    samples = _finite(np.frombuffer(content, SAMPLE_TYPE, offset=start))
    curves: dict[str, Curve | Missing] = {}
    end = 0
    for name, (count, start_s, step_s, origins, own, flags) in words["curves"].items():
        # A view of immutable bytes: read-only.
        begin, end = end, end + count
        part = samples[begin:end]
        curves[name] = Curve(
            samples=part,
            start_s=start_s,
            step_s=step_s,
            origins=tuple((read, channel) for read, channel in origins),
            words=own,
            flags=tuple(Flag(*flag) for flag in flags),
            restored=partial(signals.restored, name, part),
        )
    curves |= {name: Missing(_error_from(*said)) for name, said in words["missing"].items()}
    aside = tuple(SetAside(name, _error_from(*said)) for name, *said in words["set_aside"])
    return KeptTest(tuple(words["channels"]), aside, curves)


class _KeptSignals:
    """The signals of one entry, each restored on first access."""

    def __init__(self, text: bytes) -> None:
        self._text = text
        self._signals: dict[str, Signal] = {}

    @cached_property
    def _words(self) -> Any:
        return json_content(self._text)

    def restored(self, name: str, samples: NDArray[np.float64]) -> Signal:
        """Return the signal of a channel."""
        if name not in self._signals:
            self._signals[name] = signal_from(self._words[name], samples)
        return self._signals[name]


def _finite(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return samples, all of which must be finite, because pairs do not check them again."""
    if not np.isfinite(samples).all():
        raise ValueError("some samples are not finite")
    return samples


def _digest(key: str, body: bytes | memoryview) -> bytes:
    digest = hashlib.sha256(key.encode())
    digest.update(body)
    return digest.digest()


def _error_words(error: CorrelateError) -> list[str]:
    kind, said = type(error), vars(error)
    if getattr(_ERRORS, kind.__name__, None) is not kind or set(said) != {"what", "where", "remedy"}:
        raise TypeError("an error of this type cannot be restored exactly")
    return [kind.__name__, error.what, error.where, error.remedy]


def _error_from(kind: str, what: str, where: str, remedy: str) -> CorrelateError:
    error: Any = getattr(_ERRORS, kind)(what, where=where, remedy=remedy)
    if not isinstance(error, CorrelateError):
        raise TypeError("no error")
    return error

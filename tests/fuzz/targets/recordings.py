"""Readers of recordings: delimited text, columns with their layout, ISO/TS 13499, the HDF5 archive."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.errors import CorrelateError
from correlate.formats import archive, delimited, iso13499, read
from correlate.formats.columns.layout_file import load_layout
from correlate.formats.columns.looking import look_at
from correlate.formats.registry import read_so_far
from correlate.units import parse_unit
from tests.formats.columns.examples import NODES, PROBE
from tests.formats.examples import (
    CHN,
    HEAD_FILE,
    MME,
    SEAT_FILE,
    TIME_CHN,
    TIME_FILE,
    TIMED_SEAT,
    written_test,
)
from tests.fuzz.rounds import Target, write_files
from tests.fuzz.watching import Wrong

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.formats import Recording
    from tests.fuzz.mutations import Case

_BASE = ("correlate/files.py", "correlate/signal.py", "correlate/samples.py", "correlate/units.py")


def valid(recording: Recording, out: Path) -> None:
    """Raise `Wrong` unless a recording is finite and the same after it is written and read again."""
    for signal in recording.signals:
        if len(signal) == 0 or not np.isfinite(signal.samples).all():
            raise Wrong(f"channel {signal.channel!r} holds samples that are not finite")
        if not (np.isfinite(signal.start_s) and np.isfinite(signal.step_s) and signal.step_s > 0):
            raise Wrong(f"channel {signal.channel!r} has no usable times")
        parse_unit(signal.unit)
    if not recording.signals:
        raise Wrong("a recording without a channel was accepted")
    if not all(str(one.error).isprintable() for one in recording.set_aside):
        raise Wrong("a channel was set aside in words that cannot be printed")
    if not all(text.isprintable() for text in recording.warnings):
        raise Wrong("a warning cannot be printed")
    archive.write(recording, out / "again.h5")
    _same(recording, archive.read(out / "again.h5"))


def _same(first: Recording, second: Recording) -> None:
    if second.channel_names != first.channel_names:
        raise Wrong("the channels differ after writing and reading")
    for one, other in zip(first.signals, second.signals, strict=True):
        if one.samples.tobytes() != other.samples.tobytes():
            raise Wrong(f"the samples of {one.channel!r} differ after writing and reading")
        if (one.unit, one.start_s, one.step_s) != (other.unit, other.start_s, other.step_s):
            raise Wrong(f"unit or times of {one.channel!r} differ after writing and reading")
    if dict(first.details) != dict(second.details) or first.warnings != second.warnings:
        raise Wrong("details or warnings differ after writing and reading")


def _again(recording: Recording, files: Path, writer: Any, name: str) -> None:
    """Write in the format itself; it may refuse what it cannot hold, but must not change it."""
    out = files.parent / "out"
    valid(recording, out)
    try:
        writer.write(recording, out / name)
    except CorrelateError:
        return
    second = read(out / name)
    if second.channel_names != recording.channel_names:
        raise Wrong(f"other channels after writing: {second.channel_names} for {recording.channel_names}")
    for one, other in zip(recording.signals, second.signals, strict=True):
        if not np.array_equal(one.samples, other.samples):
            raise Wrong(f"the samples of {one.channel!r} differ after writing and reading")


# Delimited text ---------------------------------------------------------------------------------------

_DETAILS = "# Title: drop 3\n# Operator: lab\n"
_DELIMITED = (
    f"{_DETAILS}time [ms],head x [m/s^2],force [kN]\n0,0,1\n0.1,2.5,-1e-3\n0.2,3,1E2\n0.3,-4.5,7\n",
    "Zeit [s];Kraft [N];Weg [mm]\r\n0,0;1,5;2\r\n0,001;2,5;3\r\n0,002;-3,5;4\r\n",
    "time\tacc x\ns\tg\n0.0\t1\n0.5\t2\n1.0\t3\n",
    "time (ms),a (deg)\n-1,1\n0,2\n1,3\n2,5\n",
)


def _delimited_seeds(_: Path) -> list[Case]:
    return [{"run.csv": text.encode()} for text in _DELIMITED]


def _read_delimited(files: Path) -> None:
    path = files / "run.csv"
    read_so_far(path)
    _again(read(path), files, delimited.FORMAT, "again.csv")


# Columns ----------------------------------------------------------------------------------------------

_PROBE_LAYOUT = """\
files = ["run.txt"]
time = "t"
skip_lines = 2
comment = "#"
columns = [
  {name = "t", unit = "ms"},
  {name = "force", unit = "kN"},
  {name = "state", ignore = true},
  {name = "travel", unit = "mm"},
]
"""
_NODES_LAYOUT = """\
units = "mm-ms-kg"
columns = [
  {name = "node", characters = [1, 5]},
  {name = "x", quantity = "length", characters = [6, 17]},
  {name = "y", unit = "mm", characters = [18, 29]},
]

[block]
start = "n o d e s at time = {time} *"
time_unit = "s"
key = "node"
skip_lines = 1
end = ""

[normal_end]
text = "normal *"
"""
_PLAIN_LAYOUT = """\
time = "t"
separator = ";"
decimal = ","
skip_lines = 1
header = ["t; a; b"]
missing = ["*", "-"]
skip_like = ["stop *"]
columns = [{name = "t", unit = "s"}, {name = "a", unit = "g"}, {name = "b", unit = "1"}]
"""
_PLAIN = "t; a; b\n0,0;1,5;-\n0,1;2,5;1\nstop here\n0,2;3,5;2\n"


def _column_seeds(_: Path) -> list[Case]:
    pairs = ((_PROBE_LAYOUT, PROBE), (_NODES_LAYOUT, NODES), (_PLAIN_LAYOUT, _PLAIN))
    return [{"layout.toml": one.encode(), "run.txt": text.encode()} for one, text in pairs]


def _read_columns(files: Path) -> None:
    layout = load_layout(files / "layout.toml")
    valid(read(files / "run.txt", [layout]), files.parent / "out")


def _look(files: Path) -> None:
    look_at(files / "run.txt")


# ISO/TS 13499 -----------------------------------------------------------------------------------------


_ISO = {"T/T.mme": MME, "T/Channel/T.chn": CHN, "T/Channel/T.001": HEAD_FILE, "T/Channel/T.002": SEAT_FILE}
_TIMED = {"T/Channel/T.chn": TIME_CHN, "T/Channel/T.002": TIMED_SEAT, "T/Channel/T.003": TIME_FILE}


def _iso_cases() -> list[Case]:
    plain, timed = _ISO, _ISO | _TIMED
    return [{name: text.encode("latin-1") for name, text in files.items()} for files in (plain, timed)]


def _iso_seeds(_: Path) -> list[Case]:
    return _iso_cases()


def _read_iso(files: Path) -> None:
    _again(read(files / "T"), files, iso13499.FORMAT, "KM3")


def _zip_seeds(folder: Path) -> list[Case]:
    written_test(folder)
    iso13499.FORMAT.write(read(folder / "KM3"), folder / "T.zip")  # type: ignore[misc]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in _iso_cases()[1].items():
            made.writestr(zipfile.ZipInfo(name), content)
    return [{"T.zip": (folder / "T.zip").read_bytes()}, {"T.zip": packed.getvalue()}]


def _read_zip(files: Path) -> None:
    valid(read(files / "T.zip"), files.parent / "out")


def _assemble_zip(case: Case, folder: Path) -> None:
    """Pack the files of a test, so that mutations reach what is behind the check of the zip file."""
    with zipfile.ZipFile(folder / "T.zip", "w") as made:
        for name, content in case.items():
            made.writestr(zipfile.ZipInfo(name), content)


# HDF5 archive -----------------------------------------------------------------------------------------


def _archive_seeds(folder: Path) -> list[Case]:
    written_test(folder)
    archive.write(read(folder / "KM3"), folder / "run.h5")
    return [{"run.h5": (folder / "run.h5").read_bytes()}]


def _read_archive(files: Path) -> None:
    path = files / "run.h5"
    recording = read(path)
    valid(recording, files.parent / "out")
    archive.read_channel(path, recording.channel_names[0])


def _hashed_seeds(folder: Path) -> list[Case]:
    """Take an archive apart: the texts, and the samples of each channel."""
    recording = read(written_test(folder))
    channels = [archive.channel_text(signal, 0) for signal in recording.signals]
    case = {"recording.json": archive.recording_text(recording).encode()}
    case |= {f"channel-{number}.json": text.encode() for number, text in enumerate(channels)}
    case |= {f"samples-{number}.raw": one.samples.tobytes() for number, one in enumerate(recording.signals)}
    return [case]


def _assemble_archive(case: Case, folder: Path) -> None:
    """Write an archive of texts and samples with the hashes that belong to them, so that all are believed."""
    import h5py  # noqa: PLC0415 - as in the module under test

    recording = case.get("recording.json", b"")
    numbers = [name.removesuffix(".json")[8:] for name in sorted(case) if name.startswith("channel-")]
    texts = [case[f"channel-{number}.json"] for number in numbers]
    rows = [case.get(f"samples-{number}.raw", b"") for number in numbers]
    samples = [np.frombuffer(row[: len(row) // 8 * 8], dtype="<f8") for row in rows]
    hashes = [
        hashlib.sha256(text + row.tobytes()).hexdigest() for text, row in zip(texts, samples, strict=True)
    ]
    with h5py.File(folder / "run.h5", "w") as file:
        digest = hashlib.sha256(recording).hexdigest()
        file.attrs.update({"kind": np.bytes_(archive.KIND), "version": 1, "sha256": np.bytes_(digest)})
        file["recording"] = np.array([recording or b"\x00"])
        file["channels"] = np.array(texts or [b""])
        file["sha256"] = np.array([text.encode() for text in hashes] or [b""])
        for text, row in zip(texts, samples, strict=True):
            place = f"samples/{_declared(text, len(row))}"
            if place not in file and row.size:
                file[place] = row[None, :]


def _declared(text: bytes, size: int) -> str:
    try:
        found = json.loads(text)["samples"]
    except (ValueError, LookupError, TypeError, RecursionError):
        return str(size)
    return str(found) if isinstance(found, int | float) else str(size)


def _any_seeds(folder: Path) -> list[Case]:
    """Take a file of each format."""
    second = folder / "second"
    second.mkdir()
    return [*_delimited_seeds(folder), *_zip_seeds(folder), *_archive_seeds(second)]


def _read_any(files: Path) -> None:
    for path in sorted(files.iterdir()):
        valid(read(path), files.parent / "out")


_TEXT = (
    "correlate/formats/text.py",
    "correlate/formats/number_text.py",
    "correlate/formats/registry.py",
    *_BASE,
)
TARGETS = (
    Target(
        name="delimited",
        seeds=_delimited_seeds,
        run=_read_delimited,
        traced=("correlate/formats/delimited", *_TEXT),
        inputs=120,
    ),
    Target(
        name="columns",
        seeds=_column_seeds,
        run=_read_columns,
        traced=("correlate/formats/columns", "correlate/toml.py", *_TEXT),
        inputs=200,
    ),
    Target(
        name="unknown-text",
        seeds=lambda folder: [{"run.txt": case["run.txt"]} for case in _column_seeds(folder)],
        run=_look,
        traced=("correlate/formats/columns/looking.py", "correlate/formats/columns/proposal.py", *_TEXT),
        inputs=60,
    ),
    Target(
        name="iso13499-folder",
        seeds=_iso_seeds,
        run=_read_iso,
        traced=("correlate/formats/iso13499", *_TEXT),
        inputs=150,
    ),
    Target(
        name="iso13499-zip",
        seeds=_zip_seeds,
        run=_read_zip,
        traced=("correlate/formats/iso13499", *_TEXT),
        inputs=100,
    ),
    Target(
        name="iso13499-packed",
        seeds=_iso_seeds,
        run=_read_zip,
        traced=("correlate/formats/iso13499", *_TEXT),
        inputs=100,
        assemble=_assemble_zip,
    ),
    Target(
        name="archive",
        seeds=_archive_seeds,
        run=_read_archive,
        traced=("correlate/formats/archive.py", *_BASE),
        inputs=60,
    ),
    Target(
        name="archive-contents",
        seeds=_hashed_seeds,
        run=_read_archive,
        traced=("correlate/formats/archive.py", *_BASE),
        inputs=120,
        assemble=_assemble_archive,
    ),
    Target(
        name="any-format",
        seeds=_any_seeds,
        run=_read_any,
        traced=("correlate/formats", *_BASE),
        inputs=60,
    ),
)
__all__ = ["TARGETS", "valid", "write_files"]

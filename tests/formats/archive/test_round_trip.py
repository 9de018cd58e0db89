"""What is written into an archive comes out of it, to the last bit."""

from __future__ import annotations

import subprocess
import sys
import tracemalloc
from pathlib import Path
from types import MappingProxyType
from typing import Any

import h5py
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import ChannelError, FormatError, UnitError
from correlate.formats import Recording, SetAside, archive, iso13499, read
from correlate.signal import Signal, Source, Step
from tests.formats.examples import HEAD, bits, samples, signal, starts, steps, units, written, written_test

words = st.text(st.characters(), max_size=12)
names = st.text(st.characters(), min_size=1, max_size=12)
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | words,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.lists(inner, max_size=3).map(tuple)
        | st.dictionaries(words, inner, max_size=3)
    ),
    max_leaves=6,
)
histories = st.lists(st.builds(Step, words, st.dictionaries(words, values, max_size=4)), max_size=4).map(
    tuple
)
signals = st.builds(
    Signal,
    samples=samples,
    start_s=starts,
    step_s=steps,
    unit=units,
    channel=names,
    source=st.builds(Source, words, words),
    history=histories,
)
texts = st.dictionaries(words, words, max_size=4)
recordings = st.builds(
    Recording,
    signals=st.lists(signals, min_size=1, max_size=5, unique_by=lambda one: one.channel).map(tuple),
    path=st.just(Path("run.csv")),
    format=words,
    title=words,
    details=texts,
    channel_headers=st.dictionaries(words, texts, max_size=3),
    channel_list=texts,
    warnings=st.lists(words, max_size=3).map(tuple),
)


def told(one: Signal, steps: int) -> tuple[Any, ...]:
    """Return everything about a signal, kinds of values included, in a form to compare."""
    history = [(step.name, repr(dict(step.settings))) for step in one.history[:steps]]
    numbers = bits([one.start_s, one.step_s, *one.samples]).tolist()
    return one.channel, one.unit, one.source, numbers, history


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(recording=recordings)
def test_everything_comes_back(recording: Recording, tmp_path: Path) -> None:
    """Any names, units, times, samples, histories and words, in order; each channel alone, too."""
    path = tmp_path / "run.h5"
    archive.write(recording, path)
    back = read(path)
    assert (back.path, back.format) == (path, "HDF5 archive")
    assert back.title == recording.title
    assert list(back.details.items()) == list(recording.details.items())
    assert list(back.channel_list.items()) == list(recording.channel_list.items())
    assert {name: list(lines.items()) for name, lines in back.channel_headers.items()} == {
        name: list(lines.items()) for name, lines in recording.channel_headers.items()
    }
    assert back.warnings == recording.warnings
    assert back.channel_names == recording.channel_names
    for before, after in zip(recording.signals, back.signals, strict=True):
        steps = len(before.history)
        assert told(after, steps) == told(before, steps)
        alone = archive.read_channel(path, before.channel)
        assert told(alone, steps + 1) == told(after, steps + 1)


def test_a_signal_out_of_an_archive_says_so(tmp_path: Path) -> None:
    """It keeps its source; one more step names the archive, the hash of the channel and what was archived."""
    original = read(written_test(tmp_path))
    path = tmp_path / "KM3.h5"
    archive.write(original, path)
    head, before = read(path).channel(HEAD), original.channel(HEAD)
    assert head.source == before.source
    assert head.history[:-1] == before.history
    last = head.history[-1]
    assert last.name == "read archive"
    assert {key: value for key, value in last.settings.items() if key != "sha256"} == {
        "file": str(path),
        "version": 1,
        "recording": str(tmp_path / "KM3"),
        "recording_format": "ISO/TS 13499",
    }
    assert len(last.settings["sha256"]) == 64


def test_the_hash_follows_the_content_and_not_the_file(tmp_path: Path) -> None:
    """Another sample, unit or history is another hash; another name of the archive is not."""

    def sha256(one: Signal, name: str = "a.h5") -> str:
        path = tmp_path / name
        archive.write(Recording(signals=(one,), path=Path("x"), format=""), path)
        return str(archive.read_channel(path, one.channel).history[-1].settings["sha256"])

    plain = signal([0.0, 1.0, 2.0])
    assert sha256(plain) == sha256(plain, "b.h5")
    others = [
        signal([0.0, 1.0, 2.0000000000000004]),
        signal([0.0, 1.0, 2.0], unit="m/s^2"),
        signal([0.0, 1.0, 2.0], start_s=1e-9),
        signal([0.0, 1.0, 2.0], history=(Step("read"),)),
        signal([0.0, 1.0, 2.0], source=Source("run.csv", "ab")),
    ]
    assert len({sha256(one) for one in [plain, *others]}) == 6


def test_a_test_folder_survives_the_archive(tmp_path: Path) -> None:
    """Folder, archive, folder: the second folder has the bytes of one written without the detour."""
    original = read(written_test(tmp_path))
    archive.write(original, tmp_path / "KM3.h5")
    for recording, name in ((original, "direct"), (read(tmp_path / "KM3.h5"), "detour")):
        (tmp_path / name).mkdir()
        iso13499.write(recording, tmp_path / name / "KM3")
    direct, detour = (
        {path.name: path.read_bytes() for path in (tmp_path / name).rglob("*") if path.is_file()}
        for name in ("direct", "detour")
    )
    assert direct == detour
    assert len(direct) == 4


def test_numpy_numbers_and_frozen_mappings_come_back_as_plain_ones(tmp_path: Path) -> None:
    """They are equal; arrays and other objects are refused with channel and step."""
    settings = {"a": np.float64(0.1), "b": np.int64(3), "c": np.bool_(True), "d": MappingProxyType({"e": 1})}
    one = signal([0.0, 1.0], history=(Step("made", settings),))
    recording = Recording(signals=(one,), path=Path("x"), format="")
    archive.write(recording, tmp_path / "a.h5")
    back = read(tmp_path / "a.h5").only_channel().history[0].settings
    assert back == {"a": 0.1, "b": 3, "c": True, "d": {"e": 1}}
    for wrong, kind in ((np.zeros(2), "ndarray"), (Path("x"), "PosixPath"), ({1: 2}, "dict")):
        odd = signal([0.0, 1.0], history=(Step("made", {"with": wrong}),))
        sentence = (
            rf"b\.h5, channel 'S0SEAT0000KMACZ0': a step in its history contains a value of type '{kind}', wh"
        )
        with pytest.raises(FormatError, match=sentence):
            archive.write(Recording(signals=(odd,), path=Path("x"), format=""), tmp_path / "b.h5")
        assert not (tmp_path / "b.h5").exists()


def test_a_recording_without_channels_is_refused(tmp_path: Path) -> None:
    """Nothing is written."""
    with pytest.raises(FormatError, match=r"a\.h5: there is no channel to write; give at least one signal"):
        archive.write(Recording(signals=(), path=Path("x"), format=""), tmp_path / "a.h5")
    assert list(tmp_path.iterdir()) == []


def test_one_missing_channel_is_named_with_those_there_are(tmp_path: Path) -> None:
    """Whether one channel is asked for or all are read."""
    archive.write(read(written_test(tmp_path)), tmp_path / "a.h5")
    with pytest.raises(ChannelError, match=rf"a\.h5: there is no channel 'pelvis'; .*'{HEAD}', 'S0SEAT"):
        archive.read_channel(tmp_path / "a.h5", "pelvis")
    with pytest.raises(ChannelError, match=rf"a\.h5: there is no channel 'pelvis'; .*'{HEAD}', 'S0SEAT"):
        read(tmp_path / "a.h5").channel("pelvis")


def test_other_programs_find_a_chunk_a_channel(tmp_path: Path) -> None:
    """A general reader sees channels × samples, shuffled and deflated, and texts it can show."""
    recording = Recording(
        signals=(
            signal(np.arange(100.0), channel="a"),
            signal([1.0, 2.0], channel="b"),
            signal(-np.arange(100.0), channel="c"),
        ),
        path=Path("x"),
        format="",
    )
    archive.write(recording, tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5", "r") as file:
        table = file["samples/100"]
        assert (table.shape, table.chunks, table.dtype) == ((2, 100), (1, 100), np.float64)
        assert (table.shuffle, table.compression, table.compression_opts) == (True, "gzip", 4)
        assert np.array_equal(table[1], -np.arange(100.0))
        assert file["samples/2"][0].tolist() == [1.0, 2.0]
        assert file["channels"][1].startswith(
            b'{"channel": "b", "unit": "g", "start_s": 0.0, "step_s": 0.0001'
        )
        assert (file.attrs["kind"], file.attrs["version"]) == (b"correlate signal archive", 1)


def test_equal_recordings_give_equal_bytes(tmp_path: Path) -> None:
    """No time of day goes into the file; an older archive is replaced."""
    recording = read(written(tmp_path, "time [ms],a [g]\n0,1\n1,2\n"))
    archive.write(recording, tmp_path / "a.h5")
    first = (tmp_path / "a.h5").read_bytes()
    archive.write(recording, tmp_path / "a.h5")
    assert (tmp_path / "a.h5").read_bytes() == first
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.h5", "run.csv"]


def test_a_test_of_usual_size_is_small_and_read_without_copies(tmp_path: Path) -> None:
    """32 channels of a 12-bit recorder, 35,000 samples: below a sixth of the numbers; memory near theirs."""
    chance = np.random.default_rng(0)
    time = np.arange(35_000) * 5e-5
    pulse = 80 * np.exp(-(((time - 0.1) / 0.03) ** 2)) * np.sin(200 * time)
    least = 400 / 2**12
    recorded = [np.round((pulse + chance.normal(0, 0.1, time.size)) / least) * least for _ in range(32)]
    channels = tuple(signal(one, channel=f"c{number}") for number, one in enumerate(recorded))
    size = 32 * time.size * 8
    path = tmp_path / "a.h5"
    archive.write(Recording(signals=channels, path=Path("x"), format=""), path)
    assert path.stat().st_size < size / 6
    read(path)
    tracemalloc.start()
    back = read(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert np.array_equal(back.channel("c31").samples, recorded[31])
    assert peak < 1.2 * size


def test_nothing_is_loaded_before_there_is_an_archive() -> None:
    """Importing the formats does not import the library behind archives."""
    code = "import sys, correlate.formats; print('h5py' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_set_aside_channels_come_back_with_their_errors(tmp_path: Path) -> None:
    """Kind, words, place and remedy; the one channel alone gives its error too."""
    error = UnitError("the unit 'dB' is not known", where="run.csv, line 1", remedy="write one such as g")
    path = tmp_path / "run.h5"
    recording = Recording(
        signals=(signal([1.0, 2.0]),), path=path, format="typed", set_aside=(SetAside("noise", error),)
    )
    archive.write(recording, path)
    [back] = archive.read(path).set_aside
    assert (back.name, str(back.error), type(back.error)) == ("noise", str(error), UnitError)
    with pytest.raises(UnitError, match=r"run\.csv, line 1: the unit 'dB' is not known"):
        archive.read_channel(path, "noise")

"""Which format reads which file, formats that others add, and files that nothing can read."""

from __future__ import annotations

import os
import random
import sys
import warnings
from importlib.metadata import EntryPoint, EntryPoints
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate.errors import ChannelError, CorrelateError, FormatError
from correlate.formats import FORMATS, Format, FormatWarning, Recording, list_formats, read, registry
from tests.formats.examples import (
    CHN,
    HEAD,
    HEAD_FILE,
    MME,
    SEAT,
    counted_reading,
    signal,
    written,
    written_test,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

GOOD_TEXT = "time [ms],a [g]\n0,1\n1,2\n"


def first_line_says_counts(path: Path) -> bool:
    """Recognise the format of the added example."""
    return path.is_file() and path.read_bytes()[:6] == b"counts"


def read_counts(path: Path) -> Recording:
    """Read the format of the added example: a word, then one whole number a line."""
    lines = path.read_text().splitlines()[1:]
    values = [float(line) for line in lines]
    return Recording(signals=(signal(values, channel="counts", unit="1"),), path=path, format="counts")


COUNTS = Format("counts", "whole numbers", first_line_says_counts, read_counts)
TAKES_THE_NAME = Format("delimited text", "not the real one", first_line_says_counts, read_counts)
NO_FORMAT = "neither"


def fails(_: Path) -> bool:
    """Fail to say whether a file is recognised."""
    raise KeyError("recognise")


BROKEN = Format("broken", "fails to recognise", fails, read_counts)


@pytest.fixture
def add(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., None]]:
    """Offer objects of this file under the entry-point group, as an installed package would."""
    # The entry points load this file under a name that import finds.
    monkeypatch.setitem(sys.modules, "added_formats", sys.modules[__name__])

    def add_these(*names: str) -> None:
        offered = EntryPoints(
            EntryPoint(name.lower(), f"added_formats:{name}", registry.GROUP) for name in names
        )
        monkeypatch.setattr(registry, "entry_points", lambda group: offered.select(group=group))
        registry._added_formats.cache_clear()

    yield add_these
    registry._added_formats.cache_clear()


def test_every_built_in_format_reads_what_it_recognises(tmp_path: Path) -> None:
    """A text file and a test folder find their readers by themselves, named as text or as path."""
    assert read(str(written(tmp_path, GOOD_TEXT))).format == "delimited text"
    assert read(written_test(tmp_path)).format == "ISO/TS 13499"
    assert FORMATS[-1].name == "delimited text"  # it recognises any text


def test_missing_channel_of_a_read_file_is_named(tmp_path: Path) -> None:
    """The way a user meets it."""
    recording = read(written_test(tmp_path))
    with pytest.raises(ChannelError, match=rf"KM3: there is no channel 'pelvis'; .*'{HEAD}', '{SEAT}'$"):
        recording.channel("pelvis")


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"", "run.csv", r"run\.csv: the file is empty; export it again"),
        (
            b"\x7fELF\x02\x01\x01" + bytes(64),
            "run.csv",
            r"run\.csv: the file is binary and of no known format; 'corr",
        ),
        (
            b"hello",
            "notes.txt",
            r"notes\.txt, line 1: 'hello' is not a header of several columns; write a line",
        ),
        (b"0.1;0.2", "run.txt", r"run\.txt, line 1: there is no header, only numbers"),
        (GOOD_TEXT.encode("utf-16"), "run.csv", r"run\.csv: the file is text in UTF-16; save it as UTF-8"),
        (b"PK\x03\x04", "test.zip", r"test\.zip: the zip file is damaged"),
        (GOOD_TEXT.encode(), "run.mme", r"run\.mme: no line is of the form 'key : value'"),
    ],
)
def test_unreadable_file_is_refused_in_one_sentence(
    content: bytes, name: str, sentence: str, tmp_path: Path
) -> None:
    """Empty, binary, one line, no header, other encodings, disguised."""
    with pytest.raises(FormatError, match=sentence):
        read(written(tmp_path, content, name))


def test_missing_file_folder_that_is_no_test_and_device_are_refused(tmp_path: Path) -> None:
    """What is there and what to name instead."""
    with pytest.raises(FormatError, match=r"none\.csv: there is no such file; check the path"):
        read(tmp_path / "none.csv")
    with pytest.raises(
        FormatError, match=r"this folder is not a test, because it has no \.mme file; name the test"
    ):
        read(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(FormatError, match="pipe: this is neither a file nor a folder; name a file"):
        read(tmp_path / "pipe")


def test_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The right to read is missing for the file, or for a channel file of a test."""
    path = written(tmp_path, GOOD_TEXT)
    folder = written_test(tmp_path)
    system_open = os.open

    def refusing(path: Path, flags: int) -> int:
        if path.name in {"run.csv", "KM3.002"}:
            raise PermissionError(13, "Permission denied", str(path))
        return system_open(path, flags)

    monkeypatch.setattr(os, "open", refusing)
    with pytest.raises(
        FormatError,
        match=r"run\.csv: there is no permission to read the file; ask its owner for read permission",
    ):
        read(path)
    [bad] = read(folder).set_aside
    assert "KM3.002: there is no permission to read the file; ask its owner" in str(bad)


def test_folder_that_may_not_be_listed_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither may a folder be looked into without the right to."""

    def refusing(self: Path) -> object:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "iterdir", refusing)
    with pytest.raises(FormatError, match="there is no permission to read the file; ask its owner"):
        read(tmp_path)
    monkeypatch.setattr(Path, "is_dir", refusing)
    with pytest.raises(FormatError, match="there is no permission to read the file; ask its owner"):
        read(tmp_path)


def test_two_gigabytes_of_garbage_are_refused_after_a_first_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sparse file of zeros: a few first looks, no more."""
    path = written(tmp_path, b"\0", "huge.csv")
    with path.open("r+b") as stream:
        stream.truncate(2 * 2**30)
    with (
        counted_reading(monkeypatch) as sizes,
        pytest.raises(FormatError, match=r"huge\.csv: the file is binary and of no known format"),
    ):
        read(path)
    assert 0 < sum(sizes) <= 4 * 65_536


@pytest.mark.parametrize("seed", range(8))
def test_any_damage_to_a_test_is_answered_in_words(seed: int, tmp_path: Path) -> None:
    """Bytes changed, lost or doubled anywhere: refused, set aside or read, and never another failure."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    folder = written_test(tmp_path)
    files = {"KM3.mme": MME, "Channel/KM3.chn": CHN, "Channel/KM3.001": HEAD_FILE}
    refused = 0
    for _ in range(60):
        name, text = chance.choice(list(files.items()))
        data = bytearray(text.encode())
        at = chance.randrange(len(data))
        data[at : at + chance.randrange(3)] = chance.choice(
            [b"", b"\0", b"\n", b"\xff", b":", b"9e999", b"nan"]
        )
        (folder / name).write_bytes(data)
        try:
            recording = read(folder)
            assert recording.signals
            refused += len(recording.set_aside)
            assert all(one.error.where for one in recording.set_aside)
        except CorrelateError as error:
            refused += 1
            assert error.where  # noqa: PT017 - every error of many is looked at
        (folder / name).write_text(text)
    assert refused > 0


@pytest.mark.parametrize("seed", range(8))
def test_any_bytes_are_answered_in_words(seed: int, tmp_path: Path) -> None:
    """Random bytes, and a good text with random bytes in it."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    for _ in range(60):
        data = bytearray(GOOD_TEXT.encode() * 2)
        at = chance.randrange(len(data))
        data[at : at + chance.randrange(3)] = chance.choice(
            [chance.randbytes(2), b'"', b";", b"\t", b"[", b"#", b"\r"]
        )
        for content in (bytes(data), chance.randbytes(chance.randrange(1, 40))):
            path = written(tmp_path, content)
            try:
                assert read(path).signals
            except CorrelateError as error:
                assert str(path) in error.where  # noqa: PT017 - every error of many is looked at


def test_added_format_reads_its_files_and_is_listed_first(add: Callable[..., None], tmp_path: Path) -> None:
    """What is installed is used, before the formats that recognise any text."""
    add("COUNTS")
    assert list_formats() == (COUNTS, *FORMATS)
    recording = read(written(tmp_path, "counts\n3\n4\n"))
    assert (recording.format, recording.only_channel().samples.tolist()) == ("counts", [3.0, 4.0])
    assert read(written(tmp_path, GOOD_TEXT)).format == "delimited text"


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("MISSING", r"'missing' does not work and is skipped \(AttributeError: .*MISSING"),
        (
            "NO_FORMAT",
            r"'no_format' .* \(TypeError: added_formats:NO_FORMAT is not a correlate\.formats\.Format\)",
        ),
        ("TAKES_THE_NAME", r"'takes_the_name' .* \(ValueError: there is a format 'delimited text' already\)"),
    ],
)
def test_broken_addition_is_named_and_the_rest_go_on(
    name: str, sentence: str, add: Callable[..., None]
) -> None:
    """A warning names it; the good one beside it still works."""
    add(name, "COUNTS")
    with pytest.warns(FormatWarning, match=sentence):
        assert list_formats() == (COUNTS, *FORMATS)


def test_addition_that_fails_to_recognise_is_named_and_passed_over(
    add: Callable[..., None], tmp_path: Path
) -> None:
    """The next format reads the file."""
    add("BROKEN")
    with pytest.warns(
        FormatWarning, match=r"'broken' does not work and is skipped \(KeyError: 'recognise'\)"
    ):
        assert read(written(tmp_path, GOOD_TEXT)).format == "delimited text"


def test_addition_that_fails_to_read_is_one_sentence(add: Callable[..., None], tmp_path: Path) -> None:
    """Its own exception becomes a refusal that names it."""
    add("COUNTS")
    expected = (
        r"run\.csv: the added format 'counts' failed \(ValueError: .*'x'\); tell its author, or remove it"
    )
    with pytest.raises(FormatError, match=expected):
        read(written(tmp_path, "counts\nx\n"))


def test_fault_of_a_built_in_format_is_not_hidden(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mistake of ours must be seen as one."""

    def mistaken(_: Path) -> Recording:
        raise ZeroDivisionError("mistake")

    ours = Format("ours", "mistaken", lambda _: True, mistaken)
    monkeypatch.setattr(registry, "FORMATS", (ours,))
    with pytest.raises(ZeroDivisionError, match="mistake"):
        read(written(tmp_path, GOOD_TEXT))


def test_without_additions_nothing_is_warned_about() -> None:
    """The ordinary installation is silent."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        registry._added_formats.cache_clear()
        assert list_formats()[-len(FORMATS) :] == FORMATS

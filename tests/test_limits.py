"""Every format compares what a file declares with the limits, and says how to raise them."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError
from correlate.formats import read
from correlate.formats.columns import Column, ColumnLayout, read_columns
from correlate.limits import (
    GROWTH_VARIABLE,
    MEGABYTES_VARIABLE,
    SAMPLES_VARIABLE,
    Limits,
    current_limits,
    limited,
)
from tests.formats.examples import HEAD, SEAT, written_test

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

ROWS = "".join(f"{number},{number}\n" for number in range(6))


def as_text(folder: Path) -> Path:
    """Write delimited text with six rows of two columns."""
    path = folder / "run.csv"
    path.write_text("time [ms],force [N]\n" + ROWS, encoding="utf-8")
    return path


def as_test(folder: Path) -> Path:
    """Write a test folder with two channels of four samples."""
    return written_test(folder)


def as_zip(folder: Path) -> Path:
    """Write the test into a zip file."""
    with zipfile.ZipFile(folder / "KM3.zip", "w") as archive:
        for path in sorted(written_test(folder).rglob("*")):
            archive.write(path, path.relative_to(folder))
    return folder / "KM3.zip"


@pytest.mark.parametrize("write", [as_text, as_zip])
def test_too_many_samples_are_refused(
    write: Callable[[Path], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The limit, what was found and how to raise it are named."""
    path = write(tmp_path)
    monkeypatch.setenv(SAMPLES_VARIABLE, "3")
    with pytest.raises(
        FormatError,
        match=rf"{path.name}.*: a channel has at least \d+ samples, but at most 3 are allowed; "
        rf"check that it is the file you mean, or set {SAMPLES_VARIABLE} to allow more",
    ):
        read(path)
    monkeypatch.setenv(SAMPLES_VARIABLE, "25")
    assert read(path).signals


def test_a_channel_with_too_many_samples_is_set_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a folder, the other channels are read."""
    path = as_test(tmp_path)
    long = path / "Channel/KM3.001"
    long.write_text(long.read_text().replace("samples           :4", "samples           :64") + 60 * "0.5\n")
    monkeypatch.setenv(SAMPLES_VARIABLE, "40")
    recording = read(path)
    assert recording.channel_names == (SEAT,)
    [aside] = recording.set_aside
    assert aside.name == HEAD
    assert "but at most 40 are allowed" in str(aside.error)


def test_rows_of_columns_are_counted_as_they_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Text that a layout describes has the same limits."""
    path = tmp_path / "run.out"
    path.write_text(ROWS, encoding="utf-8")
    columns = (Column(name="t", unit="ms"), Column(name="force", unit="N"))
    layout = ColumnLayout(name="run", columns=columns, time="t", separator=",")
    assert len(read_columns(path, layout).only_channel()) == 6
    monkeypatch.setenv(SAMPLES_VARIABLE, "5")
    with pytest.raises(
        FormatError, match=r"run\.out: a channel has at least 6 samples, but at most 5 are allowed"
    ):
        read_columns(path, layout)


@pytest.mark.parametrize("write", [as_text, as_test, as_zip])
def test_memory_is_limited_too(write: Callable[[Path], Path], tmp_path: Path) -> None:
    """What all channels take together."""
    path = write(tmp_path)
    with (
        limited(Limits(bytes=64, bytes_setting="ask for more")),
        pytest.raises(
            FormatError, match=r"it takes at least 1 MB of memory, but at most 1 MB are .*, or ask for more"
        ),
    ):
        read(path)


@pytest.mark.parametrize("write", [as_text, as_test, as_zip])
def test_recordings_of_an_upload_count_together(write: Callable[[Path], Path], tmp_path: Path) -> None:
    """Each is small; all of them are not."""
    path = write(tmp_path)
    with limited(Limits(bytes=700)):
        assert read(path).signals
        again = iter(lambda: read(path), None)
        with pytest.raises(FormatError, match="it takes at least 1 MB of memory"):
            list(again)
    assert read(path).signals


def test_a_zip_file_may_unpack_to_so_much(tmp_path: Path) -> None:
    """On the disk, as in memory."""
    path = as_zip(tmp_path)
    with (
        limited(Limits(unpacked=1000, bytes_setting="ask for more")),
        pytest.raises(
            FormatError, match=r"KM3\.zip: it unpacks to 1 MB, but at most 1 MB are allowed; .*ask for more"
        ),
    ):
        read(path)


@pytest.mark.parametrize("variable", [SAMPLES_VARIABLE, MEGABYTES_VARIABLE, GROWTH_VARIABLE])
@pytest.mark.parametrize("value", ["0", "-1", "1e6", "many", "٣", "9" * 5000, "1_000"])
def test_a_variable_that_is_no_number_is_refused(
    variable: str, value: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A typing mistake neither lifts a limit nor sets it to nothing."""
    monkeypatch.setenv(variable, value)
    with pytest.raises(SettingsError, match=rf"^{variable}: '.*' is not a whole number above zero; write"):
        read(as_text(tmp_path))


def failing(limits: Limits) -> None:
    """Fail while limits apply."""
    with limited(limits):
        assert current_limits() == limits
        raise ValueError("no")


def test_limits_of_an_upload_end_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where reading it failed."""
    monkeypatch.setenv(SAMPLES_VARIABLE, "7")
    with pytest.raises(ValueError, match="no"):
        failing(Limits(samples=9))
    assert current_limits().samples == 7


def test_the_usual_limits_let_the_largest_tests_pass() -> None:
    """An hour at 20 kHz; 128 channels of an hour at 1 kHz; 200 channels of ten seconds at 20 kHz."""
    limits = Limits()
    limits.refuse_table(3600 * 20_000, 1, "a")
    limits.refuse_table(3600 * 1000, 128, "a")
    limits.refuse_table(10 * 20_000, 200, "a")
    with pytest.raises(
        FormatError, match="it takes at least 73,728 MB of memory, but at most 4,000 MB are allowed"
    ):
        limits.refuse_table(3600 * 20_000, 128, "a")

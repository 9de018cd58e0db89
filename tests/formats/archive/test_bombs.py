"""An archive that declares too much, or unpacks to too much, is refused before memory is taken for it."""

from __future__ import annotations

import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError
from correlate.formats import archive, read
from correlate.limits import GROWTH_VARIABLE, MEGABYTES_VARIABLE, SAMPLES_VARIABLE, Limits, limited
from tests.formats.archive.bombs import BOMBS, bomb
from tests.formats.archive.outside import plain_archive

if TYPE_CHECKING:
    from pathlib import Path

MEASURED = """
import resource, sys
from correlate.errors import CorrelateError
from correlate.formats import archive, read
read(sys.argv[1])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for path in sys.argv[2:]:
    for attempt in (read, lambda path: archive.read_channel(path, "a")):
        try:
            attempt(path)
            print("READ")
        except CorrelateError as error:
            print(error)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1000)
"""
MOST_MEGABYTES = 30


@pytest.mark.skipif(sys.platform != "linux", reason="the unit of the peak of memory is that of Linux")
def test_refusing_takes_no_memory(tmp_path: Path) -> None:
    """Refusing all of them, whole and by channel, takes less than a sixteenth of what one unpacks to."""
    sound = plain_archive(tmp_path / "sound.h5", seed=1)
    paths = [bomb(tmp_path / f"{number}.h5", way) for number, way in enumerate(BOMBS)]
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, sound, *paths], capture_output=True, text=True, check=True
    )
    *said, megabytes = done.stdout.splitlines()
    assert len(said) == 2 * len(paths)
    for number, words in enumerate(words for _, _, words in BOMBS.values()):
        for line in said[2 * number : 2 * number + 2]:
            assert re.match(rf"{re.escape(str(paths[number]))}: ({words})", line)
    assert float(megabytes) < MOST_MEGABYTES


@pytest.mark.parametrize(
    ("variable", "value", "words"),
    [
        (SAMPLES_VARIABLE, "199", "a channel has at least 200 samples, but at most 199 are allowed"),
        (MEGABYTES_VARIABLE, "1", "it takes at least 3 MB of memory, but at most 1 MB are allowed"),
    ],
)
def test_a_limit_is_named_with_how_to_raise_it(
    variable: str, value: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The environment lowers and raises it."""
    path = plain_archive(tmp_path / "a.h5", seed=1)
    if variable == MEGABYTES_VARIABLE:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("tests.formats.archive.outside.LENGTHS", (("a", 30), ("b", 300_000), ("c", 30)))
            plain_archive(path, seed=1)
    monkeypatch.setenv(variable, value)
    with pytest.raises(FormatError, match=rf"a\.h5: {words}; .*, or set {variable} to allow more"):
        read(path)
    monkeypatch.setenv(variable, "300000")
    assert len(read(path).signals) == 3


def test_growth_may_be_raised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever trusts a file of zeros can read it; what is damaged in it is found as ever."""
    path = bomb(tmp_path / "a.h5", "nothing stored")
    monkeypatch.setenv(GROWTH_VARIABLE, "1000000")
    with pytest.raises(FormatError, match="the archive is damaged or cut off"):
        read(path)


def test_recordings_of_one_upload_count_together(tmp_path: Path) -> None:
    """Many small recordings add up to what an upload may contain, whole ones and single channels."""
    path = plain_archive(tmp_path / "a.h5", seed=1)
    with limited(Limits(bytes=200_000)):
        read(path)
        archive.read_channel(path, "b")
        again = iter(lambda: read(path), None)
        with pytest.raises(FormatError, match=r"a\.h5: it takes at least 1 MB of memory"):
            list(again)
    read(path)

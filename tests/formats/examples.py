"""Files typed by hand and signals made from a few numbers; shared by the tests of the formats."""

from __future__ import annotations

import io
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np
from hypothesis import strategies as st

from correlate.signal import Signal

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import pytest
    from numpy.typing import ArrayLike, NDArray

HEAD = "D0HEAD0000KMACX0"
SEAT = "S0SEAT0000KMACZ0"
TIME = "S0TIME0000KMTI00"

MME = """\
Data format edition number  :1.6
Laboratory name             :Kelpwick Impact Laboratory
Title                       :head drop 3
Reference temperature       :21.5
House number of the plate   :B 12
Comment                     :first line
Comment                     :second: with colon
"""
CHN = f"""\
Instrumentation standard    :SAE J211-1
Number of channels          :2
Name of channel 001         :{HEAD} / head ax
Name of channel 002         :{SEAT} / seat az
"""
HEAD_FILE = f"""\
Test object number          :1
Name of the channel         :head ax
Channel code                :{HEAD}
Unit                        :m/(s*s)
Reference system            :NOVALUE
Channel amplitude class     :2000
Channel frequency class     :NOVALUE
Reference channel           :implicit
Sampling interval           :5.0E-05
Bit resolution              :16
Time of first sample        :-1.0E-04
Number of samples           :4
Colour of the cable         :green
0.0
-1.5
2.5e+01
3
"""
SEAT_FILE = f"""\
Name of the channel         :seat az
Channel code                :{SEAT}
Unit                        :g
Sampling interval           :0.0001
Time of first sample        :0
Number of samples           :3
1
2
4
"""

TIME_CHN = CHN.replace(":2\n", ":3\n") + f"Name of channel 003         :{TIME} / clock\n"
TIME_FILE = f"""\
Name of the channel         :clock
Channel code                :{TIME}
Unit                        :ms
Sampling interval           :NOVALUE
Number of samples           :3
0.0
0.1
0.2
"""
TIMED_SEAT = SEAT_FILE.replace("Sampling interval           :0.0001", f"Reference channel           :{TIME}")

units = st.sampled_from(["g", "m/s^2", "mm", "kN", "N·m", "deg/s", "°", "1", "m/(s*s)", "lbf"])
samples = st.lists(
    st.floats(allow_nan=False, allow_infinity=False)
    | st.sampled_from([5e-324, -0.0, 1.7976931348623157e308]),
    min_size=2,
    max_size=30,
)
starts = st.floats(-1e3, 1e3, allow_subnormal=False)
steps = st.floats(1e-7, 1.0) | st.sampled_from([5e-5, 1e-4, 1 / 3e4])


def written_test(root: Path, **parts: str) -> Path:
    """Write the example test, some files in other words or (empty text) left out; return its folder."""
    files = {"KM3.mme": MME, "KM3.chn": CHN, "KM3.001": HEAD_FILE, "KM3.002": SEAT_FILE}
    files |= {f"KM3.{key.lstrip('_')}": text for key, text in parts.items()}
    folder = root / "KM3"
    (folder / "Channel").mkdir(parents=True)
    for name, text in files.items():
        if text:
            place = folder if name.endswith(".mme") else folder / "Channel"
            (place / name).write_bytes(text.encode("latin-1"))
    return folder


def written(root: Path, content: str | bytes, name: str = "run.csv") -> Path:
    """Write one file and return its path."""
    path = root / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def signal(values: ArrayLike, **other: Any) -> Signal:
    """Return a signal of a seat acceleration."""
    given: dict[str, Any] = {"start_s": 0.0, "step_s": 1e-4, "unit": "g", "channel": SEAT}
    return Signal(samples=values, **(given | other))


def bits(values: ArrayLike) -> NDArray[np.int64]:
    """Return float64 values as their bits, in which -0 and 0 differ."""
    return np.asarray(values, dtype=np.float64).view(np.int64)


def tree(folder: Path) -> dict[str, bytes]:
    """Return path and content of every file below a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@contextmanager
def counted_reading(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """Count the bytes that are read from files opened meanwhile."""
    sizes: list[int] = []

    class Counting(io.FileIO):
        def readinto(self, buffer: Any, /) -> int | None:
            size = super().readinto(buffer)
            sizes.append(size or 0)
            return size

        def readall(self) -> bytes:
            data = super().readall()
            sizes.append(len(data))
            return data

    def opened(path: Path) -> io.BufferedReader:
        return io.BufferedReader(Counting(path))

    with monkeypatch.context() as patch:
        for module in ("correlate.files", "correlate.formats.text"):
            patch.setattr(f"{module}.open_plain", opened)
        yield sizes

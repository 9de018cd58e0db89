"""Time histories of one load case and their plain-text form."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DECADES = 6
"""Results are rounded to a millionth of the power of ten in their largest value."""


@dataclass(frozen=True, kw_only=True)
class History:
    """Results of one load case.

    Attributes
    ----------
    time
        Output times [ms], shape ``(n,)``.
    columns
        ``name [unit]`` to values, shape ``(n,)``.
    """

    time: NDArray[np.float64]
    columns: dict[str, NDArray[np.float64]]

    def text(self) -> str:
        """Give the file: a header, then one line per output time."""
        header = ", ".join(["time [ms]", *self.columns])
        table = np.column_stack(
            [np.round(self.time, 6), *(_rounded(values) for values in self.columns.values())]
        )
        lines = [",".join(f"{value:.9g}" for value in row) for row in table.tolist()]
        return "\n".join([header, *lines, ""])


def _rounded(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Round to a millionth of the column's own magnitude, and drop the sign of zero."""
    largest = float(np.max(np.abs(values)))
    if largest == 0.0:
        return values + 0.0
    places = DECADES - int(np.floor(np.log10(largest)))
    return np.asarray(np.round(values, places) + 0.0, dtype=np.float64)


def write_text(path: Path, text: str) -> None:
    """Write a file completely or not at all."""
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_text(text, encoding="utf-8", newline="\n")
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)

"""Ratings, comparisons and curves as tables for other programs: CSV, or Parquet with the extra `parquet`."""

from __future__ import annotations

import csv
import io
import json
from contextlib import contextmanager
from itertools import islice
from typing import TYPE_CHECKING, Any, Final, Protocol

from correlate.errors import SettingsError
from correlate.evaluation.conditioned import no_curves
from correlate.extras import need_extra
from correlate.files import whole_file

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
    from contextlib import AbstractContextManager
    from pathlib import Path
    from typing import BinaryIO

    from correlate.campaign.release_evidence import ReleaseEvidence
    from correlate.evaluation.conditioned import PairCurves
    from correlate.evaluation.record import PairRecord

COLUMNS: Final = (
    "release",
    "load_case",
    "channel",
    "repeat",
    "overall",
    "grade",
    "corridor",
    "phase",
    "magnitude",
    "slope",
    "shift_s",
    "samples",
    "version",
    "key",
)
"""First columns of the table of ratings."""

_SIDES: Final = {"reference": "test", "candidate": "model"}

Columns = dict[str, Any]
"""Values by column, all of one length."""

Kinds = dict[str, set[type]]
"""Types of the values of a column that are not empty."""

ROWS_OF_A_PART: Final = 5_000
"""Rows of ratings that are in memory at a time."""


class RatingRows:
    """One row per rated pair, created again in each iteration, so that few are in memory.

    Parameters
    ----------
    records
        Rated pairs, which can be read more than once.
    evidence
        Evidence of each release; decides which pairs are stale.
    load_cases
        Names of the load cases to write; all when empty.
    """

    def __init__(
        self,
        records: Iterable[PairRecord],
        evidence: Mapping[str, ReleaseEvidence],
        load_cases: Collection[str] = (),
    ) -> None:
        self._records = records
        self._load_cases = load_cases
        self._stale = {(name, gap.load_case) for name, one in evidence.items() for gap in one.of("stale")}

    def __iter__(self) -> Iterator[dict[str, Any]]:
        """Yield scores, flags, whether it is stale, measures, inputs and settings of each pair."""
        for one in self._records:
            if not self._load_cases or one.load_case in self._load_cases:
                yield _rating_row(one, (one.release, one.load_case) in self._stale)


def _rating_row(record: PairRecord, stale: bool) -> dict[str, Any]:  # noqa: FBT001 - a cell of the row
    row: dict[str, Any] = {name: getattr(record, name) for name in COLUMNS}
    row["flags"] = "; ".join(flag["name"] for flag in record.ingredients.get("flags", []))
    row["stale"] = stale
    row |= {name: one.get("value") for name, one in record.ingredients.get("also", {}).items()}
    for side, words in _SIDES.items():
        row |= _flat(words, record.inputs[side])
    return row | _flat("", record.settings)


def _flat(above: str, value: Any) -> dict[str, Any]:
    """Return nested values under names with dots; a list as JSON."""
    if not isinstance(value, dict):
        return {above: json.dumps(value, ensure_ascii=False) if isinstance(value, list) else value}
    flat: dict[str, Any] = {}
    # Sorted, because a rating from the store has its settings in another order than a new one.
    for name, inner in sorted(value.items()):
        flat |= _flat(f"{above}.{name}" if above else str(name), inner)
    return flat


def write_rows(path: Path, rows: Iterable[Mapping[str, Any]], *, ending: str = "") -> int:
    """Write rows as a table with the columns of all rows; return the number of rows.

    Parameters
    ----------
    path
        The file; it appears once it is complete.
    rows
        Read twice: first to find the columns, then to write them, a part at a time.
    ending
        ``.csv`` or ``.parquet``; that of the path when left out.
    """
    kinds: dict[str, set[type]] = {}
    for row in rows:
        for name, value in row.items():
            of_column = kinds.setdefault(name, set())
            if value is not None:
                of_column.add(type(value))
    written = 0
    with _writer(path, ending or path.suffix.lower(), kinds) as writer:
        for part in _parts(rows):
            writer.write({name: [row.get(name) for row in part] for name in kinds})
            written += len(part)
    return written


def _parts(rows: Iterable[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    """Cut rows into parts, at least one, so that a table without rows has its heading."""
    left = iter(rows)
    yield list(islice(left, ROWS_OF_A_PART))
    while part := list(islice(left, ROWS_OF_A_PART)):
        yield part


def write_curves(path: Path, curves: Iterable[PairCurves]) -> tuple[int, list[PairCurves]]:
    """Write curves as a long table, pair by pair; return how many pairs, and those that have no curves."""
    written, without = 0, []
    with _writer(path, path.suffix.lower(), {}) as writer:
        for one in curves:
            if one.pair is None:
                without.append(one)
            else:
                writer.write(one.columns())
                written += 1
        if not written:
            writer.write(no_curves())
    return written, without


class _Writer(Protocol):
    """Writes parts of one table; the first says which columns there are."""

    def write(self, columns: Columns) -> None:
        """Write some rows."""


@contextmanager
def _writer(path: Path, ending: str, kinds: Kinds) -> Iterator[_Writer]:
    """Open a table in the format of an ending; the file appears once it is complete."""
    sorts: dict[str, Callable[[BinaryIO, Kinds], AbstractContextManager[_Writer]]] = {
        ".csv": _csv,
        ".parquet": _parquet,
    }
    sort = sorts.get(ending)
    if sort is None:
        raise SettingsError(
            "a table is written as .csv or .parquet",
            where=str(path),
            remedy="end the name with one of them",
        )
    if sort is _parquet:
        need_extra("parquet", what="a Parquet file")
    with whole_file(path) as stream, sort(stream, kinds) as writer:
        yield writer


class _CsvWriter:
    """Writes UTF-8 with commas and one heading."""

    def __init__(self, text: io.TextIOWrapper) -> None:
        self._rows = csv.writer(text, lineterminator="\n")
        self._has_heading = False

    def write(self, columns: Columns) -> None:
        if not self._has_heading:
            self._rows.writerow(columns)
            self._has_heading = True
        lists = (values.tolist() if hasattr(values, "tolist") else values for values in columns.values())
        self._rows.writerows(zip(*lists, strict=True))


@contextmanager
def _csv(stream: BinaryIO, _kinds: Kinds) -> Iterator[_CsvWriter]:
    text = io.TextIOWrapper(stream, encoding="utf-8", newline="")
    yield _CsvWriter(text)
    # The file is closed by who opened it.
    text.detach()


LARGEST_GROUP: Final = 1_000_000
"""Rows of a Parquet file that are in memory before they are written."""


class _ParquetWriter:
    """Collects parts, of which there is at least one, up to a row group.

    A column whose value types are known has their common type, the others have that of the first part.
    """

    def __init__(self, stream: BinaryIO, kinds: Kinds) -> None:
        self._stream = stream
        self._kinds = kinds
        self._file: Any = None
        self._parts: list[Any] = []

    def write(self, columns: Columns) -> None:
        import pyarrow as pa  # noqa: PLC0415 - an extra

        table = pa.table(
            {name: _alike(values, self._kinds.get(name, set())) for name, values in columns.items()}
        )
        self._parts.append(table if not self._parts else table.cast(self._parts[0].schema))
        if sum(part.num_rows for part in self._parts) >= LARGEST_GROUP:
            self.flush()

    def flush(self) -> None:
        """Write what was collected, and keep its columns."""
        import pyarrow as pa  # noqa: PLC0415
        from pyarrow import parquet  # noqa: PLC0415

        table = pa.concat_tables(self._parts)
        if self._file is not None and not table.num_rows:
            return
        if self._file is None:
            self._file = parquet.ParquetWriter(self._stream, table.schema, compression="zstd")
        self._file.write_table(table)
        self._parts = [table.slice(0, 0)]

    def close(self) -> None:
        """Write the rest and the end of the file."""
        self.flush()
        self._file.close()


@contextmanager
def _parquet(stream: BinaryIO, kinds: Kinds) -> Iterator[_ParquetWriter]:
    writer = _ParquetWriter(stream, kinds)
    yield writer
    writer.close()


def _alike(values: Sequence[Any], kinds: set[type]) -> Any:
    """Return the values of a column as one type: numbers where all are, else texts."""
    import pyarrow as pa  # noqa: PLC0415

    if hasattr(values, "dtype") or not kinds:
        return values
    if kinds <= {int, float}:
        return pa.array(values, type=pa.int64() if kinds == {int} else pa.float64())
    if kinds == {bool}:
        return pa.array(values, type=pa.bool_())
    return pa.array([None if value is None else str(value) for value in values], type=pa.string())

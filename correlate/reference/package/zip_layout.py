"""The layout of a zip file: every byte belongs to a listed file or to the directory, or it is refused.

Readers of zip files start at the end and skip what they do not need, so bytes can hide before the first file,
between files, in comments, behind the end of a compressed stream and behind the directory.

References
----------
.. [1] PKWARE, APPNOTE.TXT, sections 4.3.7 (local header), 4.3.9 (data descriptor), 4.3.12 (central
   directory), 4.3.14 to 4.3.16 (end records) and 4.5 (extra fields). From memory.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from struct import Struct
from typing import TYPE_CHECKING, BinaryIO, Final

from correlate.errors import FormatError
from correlate.files import opened

if TYPE_CHECKING:
    from pathlib import Path

_LOCAL: Final = Struct("<4s5H3I2H")
_CENTRAL: Final = Struct("<4s6H3I5H2I")
_END: Final = Struct("<4s4H2IH")
_END_64: Final = Struct("<4sQ2H2I4Q")
_LOCATOR_64: Final = Struct("<4sIQI")
_LOCAL_MARK: Final = b"PK\x03\x04"
_CENTRAL_MARK: Final = b"PK\x01\x02"
_END_MARK: Final = b"PK\x05\x06"
_FULL_16, _FULL_32 = 0xFFFF, 0xFFFFFFFF
"""Values that are given in a 64-bit field instead."""
_DESCRIPTOR: Final = 0x8
_UNICODE: Final = 0x800
_SIZES_64: Final = 0x0001
_EXTRA_FIELDS: Final = {_SIZES_64: 28, 0x000A: 32, 0x5455: 13, 0x5855: 12, 0x7855: 4, 0x7875: 23}
"""Fields beside a name that are accepted, and their most bytes: 64-bit sizes, time stamps, owners."""
_LONGEST_COMMENT: Final = 65_535
_LARGEST_DIRECTORY: Final = 2**26
MOST_NAMED: Final = 20
"""Files that one message names; further ones are counted."""
_DEFLATED: Final = 8
_BLOCK: Final = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class ZipEntry:
    """A file as the directory of a zip file lists it.

    Attributes
    ----------
    name
        As stored.
    raw_name
        Its bytes.
    flags, method, crc
        General purpose flags, compression, checksum.
    packed, size
        Bytes in the zip file and extracted.
    offset
        Of its local header.
    """

    name: str
    raw_name: bytes
    flags: int
    method: int
    crc: int
    packed: int
    size: int
    offset: int


def check_layout(path: Path) -> list[ZipEntry]:
    """Compare the directory of a zip file with its bytes.

    Returns
    -------
    list of ZipEntry
        In the order of their bytes; empty for a file that is no zip file at all.

    Raises
    ------
    FormatError
        A byte belongs to no listed file; or directory and local header differ; or the file is cut off.
    """
    with opened(path) as stream:
        return _Layout(stream, str(path)).entries()


def check_streams(path: Path, entries: list[ZipEntry]) -> None:
    """Extract every compressed file once, and name all whose bytes do not end with their content."""
    with opened(path) as stream:
        layout = _Layout(stream, str(path))
        problems = [problem for entry in entries if (problem := layout.problem_of(entry))]
    if problems:
        more = f"; and {len(problems) - MOST_NAMED} more" if len(problems) > MOST_NAMED else ""
        raise layout.refused("; ".join(problems[:MOST_NAMED]) + more)


class _Layout:
    """A zip file that is compared with its directory."""

    def __init__(self, stream: BinaryIO, label: str) -> None:
        self._stream = stream
        self._label = label
        self._size = stream.seek(0, 2)

    def entries(self) -> list[ZipEntry]:
        """Return the files, every byte accounted for."""
        end = self._size - _END.size
        tail = self._read(max(0, end - _LONGEST_COMMENT), _LONGEST_COMMENT + _END.size)
        if not tail[-_END.size :].startswith(_END_MARK) or end < 0:
            return self._without_end(tail)
        start, length, count = self._directory(end)
        if length > _LARGEST_DIRECTORY:
            raise self.refused("its directory is too large")
        found = sorted(self._listed(self._read(start, length), count), key=lambda entry: entry.offset)
        position = 0
        for place, entry in enumerate(found):
            after = found[place + 1].offset if place + 1 < len(found) else start
            self._check_gap(position, entry.offset, f"before '{entry.name}'", entry.name)
            position = self._end_of(entry, after)
        self._check_gap(position, start, "before the directory", "")
        return found

    def _without_end(self, tail: bytes) -> list[ZipEntry]:
        """Refuse a zip file that does not end with its end record."""
        if not self._read(0, 4).startswith(b"PK"):
            return []
        if _END_MARK in tail:
            raise self.refused("bytes follow the directory of the zip file, or a comment is part of it")
        place = self._cut_off()
        raise self.refused(
            f"the zip file is cut off {place}" if place else "the end of the zip file is damaged"
        )

    def _cut_off(self) -> str:
        """Return within or after which file the bytes end, found from the start; empty if all are whole."""
        position, place = 0, "before its first file"
        while True:
            raw = self._read(position, _LOCAL.size)
            if raw.startswith(_CENTRAL_MARK):
                return ""
            if len(raw) < _LOCAL.size or not raw.startswith(_LOCAL_MARK):
                return place
            _, _, flags, _, _, _, _, packed, _, name_length, extra = _LOCAL.unpack(raw)
            raw_name = self._read(position + _LOCAL.size, name_length)
            if len(raw_name) < name_length:
                return place
            name = _text(raw_name, flags)
            position += _LOCAL.size + name_length + extra + packed
            if position > self._size or flags & _DESCRIPTOR:
                return f"within '{name}'"
            place = f"after '{name}'"

    def _directory(self, end: int) -> tuple[int, int, int]:
        """Return start, length and count of the directory that ends where the end records begin."""
        _, disk, disk_of, here, count, length, start, comment = _END.unpack(self._read(end, _END.size))
        if disk or disk_of or here != count or comment:
            raise self.refused("it has a comment or is part of a set of zip files")
        if count == _FULL_16 or _FULL_32 in (length, start):
            end, start, length, count = self._directory_64(end)
        if start + length != end:
            raise self.refused("bytes stand before the first file of the zip file or around its directory")
        return start, length, count

    def _directory_64(self, end: int) -> tuple[int, int, int, int]:
        locator = self._read(end - _LOCATOR_64.size, _LOCATOR_64.size)
        at = end - _LOCATOR_64.size - _END_64.size
        record = self._read(at, _END_64.size) if at >= 0 else b""
        if locator == _LOCATOR_64.pack(b"PK\x06\x07", 0, at, 1) and len(record) == _END_64.size:
            mark, size, _, _, disk, disk_of, here, count, length, start = _END_64.unpack(record)
            if mark == b"PK\x06\x06" and size == _END_64.size - 12 and not disk and not disk_of:
                return at, start, length, count if here == count else -1
        raise self.refused("the end of the zip file is damaged")

    def _listed(self, directory: bytes, count: int) -> list[ZipEntry]:
        found: list[ZipEntry] = []
        position = 0
        while position < len(directory):
            raw = directory[position : position + _CENTRAL.size]
            if len(raw) < _CENTRAL.size or not raw.startswith(_CENTRAL_MARK):
                raise self.refused("its directory is damaged")
            values = _CENTRAL.unpack(raw)
            flags, method, crc, packed, size = values[3], values[4], *values[7:10]
            name_length, extra_length, comment, disk, offset = *values[10:14], values[16]
            names = position + _CENTRAL.size
            extras = names + name_length
            position = extras + extra_length + comment
            raw_name = directory[names:extras]
            name = _text(raw_name, flags)
            if comment or disk or position > len(directory):
                raise self.refused(f"the directory holds a comment or a part of a set with '{name}'")
            extra = self._extra(directory[extras:position], name)
            size, packed, offset = _wide(extra, size, packed, offset)
            found.append(
                ZipEntry(
                    name=name,
                    raw_name=raw_name,
                    flags=flags,
                    method=method,
                    crc=crc,
                    packed=packed,
                    size=size,
                    offset=offset,
                )
            )
        if len(found) != count:
            raise self.refused(f"its directory states {count} files and lists {len(found)}")
        return found

    def _extra(self, data: bytes, name: str) -> bytes:
        """Return the field of 64-bit sizes; fields that could hold anything else are refused."""
        wide, position = b"", 0
        while position < len(data):
            kind = int.from_bytes(data[position : position + 2], "little")
            length = int.from_bytes(data[position + 2 : position + 4], "little")
            position += 4 + length
            if position > len(data) or length > _EXTRA_FIELDS.get(kind, -1):
                raise self.refused(f"'{name}' has an extra field that could hide bytes")
            if kind == _SIZES_64:
                wide = data[position - length : position]
        return wide

    def _end_of(self, entry: ZipEntry, after: int) -> int:
        """Compare a local header with the directory and return where the bytes of the file end."""
        data = self._data_of(entry) + entry.packed
        if not entry.flags & _DESCRIPTOR:
            return data
        found = self._read(data, max(0, min(after - data, 24)))
        sizes = (entry.packed, entry.size)
        for width in (4, 8):
            if max(sizes) >= 1 << (8 * width):
                continue
            plain = entry.crc.to_bytes(4, "little") + b"".join(
                size.to_bytes(width, "little") for size in sizes
            )
            for expected in (plain, b"PK\x07\x08" + plain):
                if found == expected:
                    return data + len(expected)
        raise self.refused(f"bytes that belong to no file follow '{entry.name}'")

    def _data_of(self, entry: ZipEntry) -> int:
        raw = self._read(entry.offset, _LOCAL.size)
        if len(raw) < _LOCAL.size or not raw.startswith(_LOCAL_MARK):
            raise self.refused(f"the header of '{entry.name}' is damaged")
        _, _, flags, method, _, _, crc, packed, size, name_length, extra_length = _LOCAL.unpack(raw)
        names = entry.offset + _LOCAL.size
        raw_name = self._read(names, name_length)
        if raw_name != entry.raw_name:
            there = _text(raw_name, flags)
            raise self.refused(f"'{entry.name}' in the directory is '{there}' in its own header")
        extra = self._extra(self._read(names + name_length, extra_length), entry.name)
        size, packed, _ = _wide(extra, size, packed, 0)
        found = (flags, method, crc, packed, size)
        listed = (entry.flags, entry.method, entry.crc, entry.packed, entry.size)
        later = entry.flags & _DESCRIPTOR and found == (*listed[:2], 0, 0, 0)
        if found != listed and not later:
            raise self.refused(f"the directory and the header of '{entry.name}' differ")
        return int(names + name_length + extra_length)

    def _check_gap(self, position: int, start: int, where: str, name: str) -> None:
        if position > start:
            raise self.refused(
                f"'{name}' and another file overlap" if name else "a file and the directory overlap"
            )
        if position < start:
            raw = self._read(position, _LOCAL.size)
            if raw.startswith(_LOCAL_MARK) and len(raw) == _LOCAL.size:
                header = _LOCAL.unpack(raw)
                hidden = _text(self._read(position + _LOCAL.size, header[9]), header[2])
                raise self.refused(f"'{hidden}' is in the zip file, but not in its directory")
            raise self.refused(f"{start - position} bytes that belong to no file stand {where}")

    def problem_of(self, entry: ZipEntry) -> str:
        """Return why the bytes of a file are not its content and nothing else; empty if they are."""
        if entry.method != _DEFLATED:
            return "" if entry.packed == entry.size else f"'{entry.name}' is not compressed and has two sizes"
        left, size = entry.packed, 0
        self._stream.seek(self._data_of(entry))
        inflate = zlib.decompressobj(-zlib.MAX_WBITS)
        try:
            while left and not inflate.eof and size <= entry.size:
                block = self._stream.read(min(left, _BLOCK))
                left -= len(block)
                while block and not inflate.eof and size <= entry.size:
                    size += len(inflate.decompress(block, _BLOCK))
                    block = inflate.unconsumed_tail
        except zlib.error:
            return f"'{entry.name}' is damaged"
        whole = inflate.eof and not left and not inflate.unused_data and size == entry.size
        return "" if whole else f"the compressed bytes of '{entry.name}' do not end with its content"

    def _read(self, position: int, length: int) -> bytes:
        self._stream.seek(position)
        return self._stream.read(length)

    def refused(self, what: str) -> FormatError:
        """Return the sentence for a zip file that is not to be used."""
        return FormatError(
            what, where=self._label, remedy="do not use this package; copy it or ask for it again"
        )


def _wide(extra: bytes, size: int, packed: int, offset: int) -> tuple[int, int, int]:
    """Return sizes and offset, from the field of 64-bit values where they do not fit."""
    wide = iter(int.from_bytes(extra[start : start + 8], "little") for start in range(0, len(extra) - 7, 8))
    size, packed, offset = (
        next(wide, value) if value == _FULL_32 else value for value in (size, packed, offset)
    )
    return size, packed, offset


def _text(raw: bytes, flags: int) -> str:
    return raw.decode("utf-8" if flags & _UNICODE else "cp437", errors="replace")

"""Mutations of an input: bytes, text, TOML, JSON, zip files, and sets of files.

An input is a set of files by their path within a folder. Every mutation draws from the random generator that
it is given and from nothing else, so that a seed names the same inputs on every machine.
"""

from __future__ import annotations

import json
import re
import struct
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence
    from random import Random

Case = dict[str, bytes]
"""Files of an input by their path within its folder."""

LARGEST: Final = 120_000
"""Most bytes of a mutated file; the rest is cut off."""

NUMBERS: Final = (
    "0", "-0.0", "-1", "1e-320", "1e308", "-1e308", "1e400", "nan", "NaN", "inf", "-Infinity", "9" * 40,
    "9" * 5000, "2147483648", "-9223372036854775809", "0x7f", "1_000", "1,5", "1.5.5", "１２", "٣", "1e", "+",
    "²",
)  # fmt: skip
TEXTS: Final = (
    "", " ", "a", "Ａ1", "А1", "A1\u200b", "e\u0301", "\u202egnp", "\ufeff", "\x00", "\x1b[2J", "\x85",
    "\u2028", "..", "../../outside", "/etc/hostname", "C:\\x", "con", "a/b", "*", "[", "(", "%s", "{0}",
    "<b>", "'", "\\", "\ud7ff", "\U0001f600", "x" * 300, "y" * 20_000, "\t", "\r", "m/s^2", "m/s^-99999",
    "1/0", "°C", "2026-02-30",
)  # fmt: skip
_TOML_VALUES: Final = (
    "true", "1979-05-27", "1979-05-27T07:32:00Z", "07:32:00", "[]", "{}", "[[]]", "[nan]", "[1, 2]", "[2, 1]",
    "[0, 0]", "[-inf, inf]", '["*"]', '[""]', '["a", "a"]', "[true]", "{a = 1}", "[{}]", '[{name = "a"}]',
    "[" * 2000 + "]" * 2000, '"""\n"""', r'"\u0000"', r'"\u0085"',
)  # fmt: skip
_TOKEN: Final = re.compile(r'[-+]?\d[\d.]*(?:[eE][-+]?\d+)?|"[^"\n]*"|[^\W\d]\w*')
_SETTING: Final = re.compile(r"^(\s*[\w.\"'-]+\s*=\s*)(.*)$")
_MAGIC: Final = (
    0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 2**63, 2**64 - 1,
)  # fmt: skip
_ZIP_MARKS: Final = {b"PK\x03\x04": 30, b"PK\x01\x02": 46, b"PK\x05\x06": 22}
_TEXT_ENDINGS: Final = frozenset(
    {".toml", ".csv", ".json", ".txt", ".mme", ".chn", ".pub", ".cas", ".query", ""}
)


def mutated(case: Case, others: Sequence[Case], random: Random, fixed: Collection[str] = ()) -> Case:
    """Return a case with one to four mutations.

    Parameters
    ----------
    case
        To start from; left as it is.
    others
        Cases to take parts from.
    random
        Source of every choice.
    fixed
        Files that stay as they are.
    """
    changed = dict(case)
    for _ in range(random.choice((1, 1, 1, 2, 2, 3, 4))):
        names = sorted(set(changed) - set(fixed))
        if not names:
            return changed
        if random.random() < 0.06:
            _change_files(changed, names, random)
            continue
        name = random.choice(names)
        donor = random.choice(others)
        same = [content for path, content in donor.items() if _ending(path) == _ending(name)]
        other = random.choice(same) if same else b""
        changed[name] = mutated_bytes(name, changed[name], other, random)[:LARGEST]
    return changed


def mutated_bytes(name: str, content: bytes, other: bytes, random: Random) -> bytes:
    """Return a file with one mutation of a kind that its ending suggests."""
    return random.choice(_kinds(name, content))(content, other, random)


def _kinds(name: str, content: bytes) -> Sequence[Callable[[bytes, bytes, Random], bytes]]:
    ending = _ending(name)
    if ending == ".zip":
        return (*_BYTES, *(_zip_field,) * 6)
    if ending == ".json" or content[:1] in {b"{", b"["}:
        return (*_BYTES, *_TEXTS, *(_json,) * 24)
    if ending == ".toml":
        return (*_BYTES, *_TEXTS, *(_toml,) * 24)
    if ending in _TEXT_ENDINGS or ending.removeprefix(".").isdigit():
        return (*_BYTES, *_TEXTS, *_TEXTS)
    return _BYTES


def _ending(name: str) -> str:
    return PurePosixPath(name).suffix.lower()


# Sets of files ----------------------------------------------------------------------------------------


def _change_files(case: Case, names: Sequence[str], random: Random) -> None:
    """Remove, copy, exchange or empty files."""
    one, two = random.choice(names), random.choice(names)
    match random.randrange(4):
        case 0 if len(case) > 1:
            del case[one]
        case 1:
            folder = PurePosixPath(one).parent
            case[
                str(folder / f"{random.choice(('copy', 'ｃｏｐｙ', 'x' * 80, 'a b', 'COPY'))}{_ending(one)}")
            ] = case[one]
        case 2:
            case[one], case[two] = case[two], case[one]
        case _:
            case[one] = b""


# Bytes ------------------------------------------------------------------------------------------------


def _flip(content: bytes, _other: bytes, random: Random) -> bytes:
    if not content:
        return b"\x00"
    changed = bytearray(content)
    for _ in range(random.choice((1, 1, 2, 8))):
        changed[random.randrange(len(changed))] ^= 1 << random.randrange(8)
    return bytes(changed)


def _cut_off(content: bytes, _other: bytes, random: Random) -> bytes:
    return content[: random.randrange(len(content) + 1)]


def _span(content: bytes, random: Random) -> tuple[int, int]:
    start = random.randrange(len(content) + 1)
    return start, min(len(content), start + random.choice((1, 2, 4, 16, 100, 1000)))


def _remove(content: bytes, _other: bytes, random: Random) -> bytes:
    start, end = _span(content, random)
    return content[:start] + content[end:]


def _repeat(content: bytes, _other: bytes, random: Random) -> bytes:
    start, end = _span(content, random)
    return content[:end] + content[start:end] * random.choice((1, 2, 50)) + content[end:]


def _splice(content: bytes, other: bytes, random: Random) -> bytes:
    start, end = _span(other, random)
    place = random.randrange(len(content) + 1)
    kept = content[place:] if random.random() < 0.5 else content[place + end - start :]
    return content[:place] + other[start:end] + kept


def _magic(content: bytes, _other: bytes, random: Random) -> bytes:
    size = random.choice((1, 2, 4, 8))
    number = (random.choice(_MAGIC) % (1 << 8 * size)).to_bytes(size, "little")
    if random.random() < 0.5:
        number = number[::-1]
    place = random.randrange(max(1, len(content)))
    return content[:place] + number + content[place + size :]


_BYTES: Final = (_flip, _cut_off, _remove, _repeat, _splice, _magic)


# Text -------------------------------------------------------------------------------------------------


def _as_text(content: bytes) -> str:
    return content.decode("utf-8", errors="surrogateescape")


def _as_bytes(text: str) -> bytes:
    return text.encode("utf-8", errors="surrogateescape")


def _token(content: bytes, other: bytes, random: Random) -> bytes:
    """Replace a number, word or quoted text."""
    text = _as_text(content)
    found = list(_TOKEN.finditer(text))
    if not found:
        return content
    mark = random.choice(found)
    taken = [match[0] for match in _TOKEN.finditer(_as_text(other)[:20_000])] or [""]
    if mark[0].startswith('"') and random.random() < 0.7:
        new = f'"{random.choice(TEXTS)}"'
    else:
        new = random.choice((random.choice(NUMBERS), random.choice(TEXTS), random.choice(taken)))
    return _as_bytes(text[: mark.start()] + new + text[mark.end() :])


def _line(content: bytes, other: bytes, random: Random) -> bytes:
    """Remove, repeat, move, join or take over a line."""
    lines = content.split(b"\n")
    one, two = random.randrange(len(lines)), random.randrange(len(lines))
    match random.randrange(6):
        case 0:
            del lines[one]
        case 1:
            lines.insert(two, lines[one])
        case 2:
            lines[one], lines[two] = lines[two], lines[one]
        case 3:
            lines[one : one + 2] = [b"".join(lines[one : one + 2])]
        case 4:
            lines.insert(one, random.choice(other.split(b"\n")))
        case _:
            lines[one] = b""
    return b"\n".join(lines)


_SPELLINGS: Final[tuple[Callable[[bytes], bytes], ...]] = (
    lambda content: content.replace(b"\n", b"\r\n"),
    lambda content: content.replace(b"\n", b"\r"),
    lambda content: b"\xef\xbb\xbf" + content,
    lambda content: _as_text(content).encode("utf-16", errors="replace"),
    lambda content: _as_text(content).encode("latin-1", errors="replace"),
    lambda content: content.replace(b".", b","),
    lambda content: content.replace(b",", b";"),
    lambda content: content.replace(b",", b"\t"),
    lambda content: content.replace(b",", b""),
    lambda content: _as_bytes(_as_text(content).swapcase()),
    lambda content: content.rstrip(b"\n"),
)


def _spelling(content: bytes, _other: bytes, random: Random) -> bytes:
    """Write the whole text in another way: line ends, encoding, decimal comma, delimiter, case."""
    return random.choice(_SPELLINGS)(content)


def _insert(content: bytes, _other: bytes, random: Random) -> bytes:
    place = random.randrange(len(content) + 1)
    new = _as_bytes(random.choice((*TEXTS, *NUMBERS)))
    return content[:place] + new + content[place:]


_TEXTS: Final = (_token, _token, _token, _line, _line, _spelling, _insert)


def _toml(content: bytes, other: bytes, random: Random) -> bytes:
    """Replace the value of a key by one of another type or size, or take a setting from another file."""
    lines = _as_text(content).split("\n")
    settings = [number for number, line in enumerate(lines) if _SETTING.match(line)]
    if not settings:
        return _token(content, other, random)
    number = random.choice(settings)
    found = _SETTING.match(lines[number])
    assert found
    quoted = json.dumps(random.choice(TEXTS), ensure_ascii=False)
    elsewhere = [match[2] for match in map(_SETTING.match, _as_text(other).split("\n")) if match] or ["0"]
    match random.randrange(8):
        case 0 | 1:
            lines[number] = found[1] + random.choice(_TOML_VALUES)
        case 2 | 3:
            lines[number] = found[1] + random.choice(NUMBERS)
        case 4 | 5:
            lines[number] = found[1] + quoted
        case 6:
            lines[number] = found[1] + random.choice(elsewhere)
        case _:
            lines[number] = f"[{found[2]}]" if random.random() < 0.3 else f"{found[1]}[{found[2]}]"
    return _as_bytes("\n".join(lines))


def _json(content: bytes, other: bytes, random: Random) -> bytes:
    """Replace, remove or wrap a value anywhere in a JSON text."""
    try:
        tree = json.loads(content)
        elsewhere = json.loads(other) if other else None
    except (ValueError, RecursionError):
        return _token(content, other, random)
    holder: Any = {"": tree}
    places = list(_places(holder))
    node, key = random.choice(places)
    match random.randrange(8):
        case 0 if len(places) > 1:
            node, key = random.choice(places[1:])
            del node[key]
        case 1:
            node[key] = random.choice(([node[key]], {"a": node[key]}, [node[key]] * 3))
        case 2:
            node[key] = random.choice(places)[0]
            return _json_bytes(holder[""], random)
        case 3 if elsewhere is not None:
            source, name = random.choice(list(_places({"": elsewhere})))
            node[key] = source[name]
        case 4 | 5:
            node[key] = random.choice(TEXTS)
        case _:
            node[key] = random.choice(
                (None, True, False, 0, -1, 0.5, 1e308, 10**30, [], {}, [[]], "nan", float("nan"))
            )
    return _json_bytes(holder.get("", None), random)


def _json_bytes(tree: Any, random: Random) -> bytes:
    try:
        return json.dumps(tree, ensure_ascii=random.random() < 0.5).encode("utf-8", "surrogatepass")
    except ValueError:
        # A value that was put into itself.
        return b"[" * 5000 + b"]" * 5000


def _places(node: Any) -> list[tuple[Any, Any]]:
    """Return every value as its container and key."""
    found: list[tuple[Any, Any]] = []
    waiting = [node]
    while waiting:
        one = waiting.pop()
        inner = list(one.items()) if isinstance(one, dict) else list(enumerate(one))
        for key, value in inner:
            found.append((one, key))
            if isinstance(value, dict | list):
                waiting.append(value)
    return found


def _zip_field(content: bytes, _other: bytes, random: Random) -> bytes:
    """Change a field of a header of a zip file, or a name in it."""
    places = [
        (match.start(), size)
        for mark, size in _ZIP_MARKS.items()
        for match in re.finditer(re.escape(mark), content)
    ]
    if not places:
        return content
    start, size = random.choice(places)
    if random.random() < 0.25:
        return content.replace(
            *random.choice(
                ((b"data/", b"../a/"), (b"data/", b"data\\"), (b".txt", b".TXT"), (b"test", b"tes\x00"))
            )
        )
    width = random.choice((2, 4))
    place = start + random.randrange(4, size - width + 1, 2)
    number = random.choice(_MAGIC) if random.random() < 0.6 else random.randrange(2**16)
    return content[:place] + struct.pack("<Q", number)[:width] + content[place + width :]

"""The material cards: twelve parameters, one unit each."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MODULUS = ("MPa", 1e-3)
STIFFNESS = ("N/mm", 1e-3)
DAMPING = ("N*s/m", 1e-3)
NUMBER = ("1", 1.0)

UNITS: dict[str, tuple[str, float]] = {
    "head_skin_modulus": MODULUS,
    "head_skin_rate_coefficient": NUMBER,
    "neck_rubber_modulus": MODULUS,
    "neck_rubber_loss_factor": NUMBER,
    "rib_stiffness": STIFFNESS,
    "rib_damping": DAMPING,
    "thorax_foam_modulus": MODULUS,
    "thorax_foam_densification_strain": NUMBER,
    "lumbar_rubber_modulus": MODULUS,
    "cushion_stiffness": STIFFNESS,
    "cushion_damping": DAMPING,
    "knee_flesh_modulus": MODULUS,
}
"""Name to the unit a deck must write and the factor to solver units (kN, mm, ms)."""


@dataclass(frozen=True, kw_only=True)
class Materials:
    """Values of one deck in solver units: moduli kN/mm^2, stiffness kN/mm, damping kN*ms/mm."""

    head_skin_modulus: float
    head_skin_rate_coefficient: float
    neck_rubber_modulus: float
    neck_rubber_loss_factor: float
    rib_stiffness: float
    rib_damping: float
    thorax_foam_modulus: float
    thorax_foam_densification_strain: float
    lumbar_rubber_modulus: float
    cushion_stiffness: float
    cushion_damping: float
    knee_flesh_modulus: float


SECTIONS = ("deck", "materials", "run")


class DeckError(Exception):
    """A deck that cannot be run; the message names file, line and remedy."""


@dataclass(frozen=True, kw_only=True)
class Deck:
    """A deck that was read: its name, its materials, and the load cases to run in their order."""

    name: str
    materials: Materials
    load_cases: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _Line:
    file: Path
    number: int
    section: str
    key: str
    value: str

    def refuse(self, message: str) -> DeckError:
        return DeckError(f"{self.file}, line {self.number}: {message}")


@dataclass
class _Draft:
    name: str | None = None
    values: dict[str, float] = field(default_factory=dict)
    load_cases: list[str] = field(default_factory=list)


def read_deck(path: Path, known_cases: tuple[str, ...]) -> Deck:
    """Read and check a deck."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise DeckError(f"{path}: the deck cannot be read: {reason}; check the path") from None
    draft = _Draft()
    for line in _lines(text, path):
        _take(line, draft, known_cases)
    return _finish(draft, path)


def _lines(text: str, path: Path) -> Iterator[_Line]:
    section = ""
    for number, raw in enumerate(text.splitlines(), start=1):
        content = raw.partition("#")[0].strip()
        if not content:
            continue
        if content.startswith("[") and content.endswith("]"):
            section = content[1:-1].strip()
            if section not in SECTIONS:
                raise DeckError(
                    f"{path}, line {number}: section [{section}] is unknown; use one of "
                    f"{', '.join(f'[{name}]' for name in SECTIONS)}"
                )
            continue
        key, equals, value = (part.strip() for part in content.partition("="))
        line = _Line(file=path, number=number, section=section, key=key, value=value)
        if not (equals and key and value):
            raise line.refuse(f"'{content}' is no 'name = value' line; write it so, or start it with #")
        yield line


def _take(line: _Line, draft: _Draft, known_cases: tuple[str, ...]) -> None:
    if line.section == "materials":
        if line.key in draft.values:
            raise line.refuse(f"parameter '{line.key}' is given twice; keep one line")
        draft.values[line.key] = _parameter(line)
    elif line.section == "run" and line.key == "load_case":
        if line.value not in known_cases:
            raise line.refuse(f"load case '{line.value}' is unknown{_nearest(line.value, known_cases)}")
        draft.load_cases.append(line.value)
    elif line.section == "deck" and line.key == "name":
        draft.name = line.value
    elif not line.section:
        raise line.refuse(f"'{line.key}' stands before any section; put one above it")
    else:
        raise line.refuse(f"'{line.key}' does not belong in [{line.section}]; remove it")


def _parameter(line: _Line) -> float:
    """Check one material line and give its value in solver units."""
    if line.key not in UNITS:
        raise line.refuse(f"parameter '{line.key}' is unknown{_nearest(line.key, tuple(UNITS))}")
    unit, factor = UNITS[line.key]
    number, _, written = line.value.partition(" ")
    try:
        value = float(number)
    except ValueError:
        raise line.refuse(f"'{number}' for '{line.key}' is not a number; write one, then {unit}") from None
    if not math.isfinite(value):
        raise line.refuse(f"'{number}' for '{line.key}' is not a finite number; write one")
    if written.strip() != unit:
        shown = f"unit '{written.strip()}'" if written.strip() else "no unit"
        raise line.refuse(f"'{line.key}' has {shown}; it is given in {unit}")
    if value <= 0.0:
        raise line.refuse(f"'{line.key}' is {number} {unit}; it must be above zero")
    return value * factor


def _nearest(word: str, known: tuple[str, ...]) -> str:
    close = get_close_matches(word, known, n=1, cutoff=0.5)
    return f"; did you mean '{close[0]}'?" if close else f"; known are {', '.join(known)}"


def _finish(draft: _Draft, path: Path) -> Deck:
    missing = [name for name in UNITS if name not in draft.values]
    if missing:
        unit = UNITS[missing[0]][0]
        raise DeckError(f"{path}: parameter '{missing[0]}' is missing; add it to [materials], in {unit}")
    if draft.name is None:
        raise DeckError(f"{path}: the deck has no name; add 'name = …' to [deck]")
    if not draft.load_cases:
        raise DeckError(f"{path}: no load case is asked for; add 'load_case = …' to [run]")
    return Deck(
        name=draft.name,
        materials=Materials(**draft.values),
        load_cases=tuple(dict.fromkeys(draft.load_cases)),
    )

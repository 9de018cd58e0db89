"""Decks: what is read, and that every mistake is answered with file, line and remedy."""

from collections.abc import Callable
from pathlib import Path

import pytest

from demo_pairs.solver.deck import UNITS, DeckError, read_deck
from demo_pairs.solver.run import LOAD_CASES

DECKS = Path(__file__).parents[2] / "demo_pairs" / "decks"
LINES = (DECKS / "A1.deck").read_text(encoding="utf-8").splitlines()
CASES = tuple(LOAD_CASES)


def line_of(start: str) -> int:
    """Give the number of the line of deck A1 that begins so, from 1."""
    (found,) = [number for number, line in enumerate(LINES, start=1) if line.startswith(start)]
    return found


@pytest.fixture
def changed(tmp_path: Path) -> Callable[[str, str], Path]:
    """Write deck A1 with one line replaced."""

    def write(start: str, line: str) -> Path:
        path = tmp_path / "changed.deck"
        lines = [line if number == line_of(start) else old for number, old in enumerate(LINES, start=1)]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize("name", ["A1", "A2", "A3"])
def test_release_decks_are_read(name: str) -> None:
    """Every release deck has its name, twelve parameters and eight load cases."""
    deck = read_deck(DECKS / f"{name}.deck", CASES)
    assert deck.name == name
    assert deck.load_cases == CASES
    assert len(UNITS) == 12


def test_units_are_turned_into_solver_units(changed: Callable[[str, str], Path]) -> None:
    """1 MPa is 0.001 kN/mm², 1 N/mm 0.001 kN/mm, 1 N s/m 0.001 kN ms/mm."""
    deck = read_deck(changed("rib_stiffness", "rib_stiffness = 4.2e1 N/mm # a comment"), CASES)
    assert deck.materials.rib_stiffness == pytest.approx(0.042)
    assert deck.materials.head_skin_modulus == pytest.approx(0.078)
    assert deck.materials.cushion_damping == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("start", "line", "message"),
    [
        ("rib_stiffness", "rib_stifness = 36 N/mm", r"unknown; did you mean 'rib_stiffness'\?"),
        ("rib_stiffness", "zzz = 36 N/mm", r"parameter 'zzz' is unknown; known are head_skin_modulus, "),
        ("rib_stiffness", "rib_stiffness = 36 kN/mm", r"has unit 'kN/mm'; it is given in N/mm"),
        ("rib_stiffness", "rib_stiffness = 36", r"'rib_stiffness' has no unit; it is given in N/mm"),
        ("rib_stiffness", "rib_stiffness = -36 N/mm", r"'rib_stiffness' is -36 N/mm; it must be above zero"),
        ("rib_stiffness", "rib_stiffness = 0 N/mm", r"'rib_stiffness' is 0 N/mm; it must be above zero"),
        ("rib_stiffness", "rib_stiffness = stiff N/mm", r"'stiff' for 'rib_stiffness' is not a number"),
        ("rib_stiffness", "rib_stiffness = nan N/mm", r"'nan' for 'rib_stiffness' is not a finite number"),
        ("rib_stiffness", "rib_stiffness", r"'rib_stiffness' is no 'name = value' line"),
        ("rib_stiffness", "knee_flesh_modulus = 9 MPa", r"."),
        ("[materials]", "[material]", r"section \[material\] is unknown; use one of \[deck\], \[mat"),
        ("name = A1", "author = nobody", r"'author' does not belong in \[deck\]; remove it"),
        ("[deck]", "stray = 1", r"'stray' stands before any section"),
        ("load_case = knee", "load_case = knee-impct", r"unknown; did you mean 'knee-impact'\?"),
    ],
)  # fmt: skip
def test_bad_line_is_named(changed: Callable[[str, str], Path], start: str, line: str, message: str) -> None:
    """File and number of the bad line come first, then what is wrong and what to do."""
    path = changed(start, line)
    number = line_of(start)
    if "knee_flesh" in line:
        number, message = line_of("knee_flesh_modulus"), "parameter 'knee_flesh_modulus' is given twice"
    with pytest.raises(DeckError, match=rf"^{path}, line {number}: .*{message}"):
        read_deck(path, CASES)


@pytest.mark.parametrize(
    ("start", "message"),
    [
        ("lumbar_rubber_modulus", r"'lumbar_rubber_modulus' is missing; add it to \[materials\], in MPa"),
        ("name = A1", r"the deck has no name; add 'name = …' to \[deck\]"),
    ],
)  # fmt: skip
def test_missing_line_is_named(changed: Callable[[str, str], Path], start: str, message: str) -> None:
    """What is missing is named, with the section and unit it belongs to."""
    with pytest.raises(DeckError, match=message):
        read_deck(changed(start, ""), CASES)


def test_deck_without_load_cases(tmp_path: Path) -> None:
    """A deck that asks for nothing is refused."""
    path = tmp_path / "idle.deck"
    path.write_text("\n".join(line for line in LINES if not line.startswith("load_case")), encoding="utf-8")
    with pytest.raises(DeckError, match=r"no load case is asked for; add 'load_case = …' to \[run\]"):
        read_deck(path, CASES)


def test_absent_deck(tmp_path: Path) -> None:
    """A path that leads nowhere is named."""
    with pytest.raises(DeckError, match=r"none\.deck: the deck cannot be read: No such file or directory"):
        read_deck(tmp_path / "none.deck", CASES)


def test_deck_that_is_no_text(tmp_path: Path) -> None:
    """Bytes that are not UTF-8 are refused as such."""
    path = tmp_path / "binary.deck"
    path.write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(DeckError, match=r"it is not UTF-8 text"):
        read_deck(path, CASES)

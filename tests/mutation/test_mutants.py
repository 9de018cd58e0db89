"""The faults that are put into sources, and that the table of packages fits the tree."""

from __future__ import annotations

import pytest

from tests.mutation.__main__ import TESTS, _equivalent, _key, _sources
from tests.mutation.mutants import mutants_of
from tests.mutation.running import ROOT


def changes(source: str) -> list[str]:
    """Return what stands and what replaces it, for every fault of a source."""
    found = mutants_of(source.encode(), file="module.py")
    return [f"{one.before} → {one.after}" for one in found]


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("x = a < b", ["a < b → (a <= b)", "a < b → (a >= b)"]),
        ("x = a == b", ["a == b → (a != b)"]),
        ("x = a is not b", ["a is not b → (a is b)"]),
        ("x = a + b * c", ["a + b * c → (a - b * c)", "b * c → (b / c)"]),
        (
            "x = a and b < c",
            ["a and b < c → (a or b < c)", "a → (not a)", "b < c → (b <= c)", "b < c → (b >= c)"],
        ),
        ("x = not a", ["not a → (a)"]),
        ("x = 3", ["3 → 4", "3 → 2"]),
        ("x = 0.5", ["0.5 → 0.55", "0.5 → 0.454545454545"]),
        ("x = 1e-9", ["1e-9 → 1e-07", "1e-9 → 1e-11"]),
        ("x = True", ["True → False"]),
        ("x = min(a, b)", ["min(a, b) → (max(a, b))"]),
        ("x += a", ["x += a → x -= a"]),
        ("def f():\n    return a", ["return a → return None"]),
        ("def f():\n    if a:\n        return", ["a → (not a)"]),
    ],
)
def test_each_kind_of_fault(source: str, expected: list[str]) -> None:
    """Boundaries, turned comparisons, arithmetic, logic, constants, extremes, conditions, return values."""
    assert changes(source) == expected


@pytest.mark.parametrize(
    "source",
    [
        '"""A docstring of 3 < 4."""',
        "def f(a: Literal[3]) -> Final[3]:\n    pass",
        "@dataclass(frozen=True)\nclass A:\n    pass",
        "raise ValueError(3)",
        "x = f'{3:.4g}'",
        "x = 'a' + b",
        "if TYPE_CHECKING:\n    x = 3",
        "x = zip(a, b, strict=True)",
        "x = round(a, 4)",
    ],
)
def test_where_no_fault_is_put(source: str) -> None:
    """Texts, annotations, decorators and messages are left alone."""
    assert changes(source) == []


def test_a_fault_keeps_the_lines_behind_it_at_their_numbers() -> None:
    """A condition over two lines is replaced by one, and the line break follows."""
    source = b"x = (a <\n     b)\ny = 1\n"
    (first, *_) = mutants_of(source, file="module.py")
    assert first.apply(source) == b"x = ((a <= b)\n)\ny = 1\n"
    assert str(first) == "module.py:1: a < b → (a <= b)   in: x = (a <"


def test_places_in_compiled_functions_are_known() -> None:
    """So are constants of a module that has some; a plain function beside them is not one of them."""
    source = b"A = 1\n@compiled\ndef f():\n    return a + b\ndef g():\n    return a * b\n"
    assert [one.function for one in mutants_of(source, file="m.py") if one.compiled] == ["", "", "f", "f"]
    assert [one.function for one in mutants_of(source, file="m.py") if not one.compiled] == ["g", "g"]


@pytest.mark.parametrize("package", TESTS)
def test_packages_and_their_tests_are_there(package: str) -> None:
    """A folder that is moved must be moved in the table too."""
    assert _sources(package)
    assert all((ROOT / folder).is_dir() for folder in TESTS[package])


def test_equivalent_faults_are_still_there() -> None:
    """An entry whose line was changed is out of date."""
    there = {
        _key(one)
        for package in TESTS
        for name in _sources(package)
        for one in mutants_of((ROOT / name).read_bytes(), file=name)
    }
    assert _equivalent() <= there

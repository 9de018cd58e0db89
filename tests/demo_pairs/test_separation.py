"""Laboratory and solver share no code: neither imports the other, nor anything of ours that both use."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "demo_pairs"


def imported(room: str) -> set[str]:
    """All modules of this project that the files of one package import, by their full names."""
    names: set[str] = set()
    for path in sorted((PACKAGE / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: relative import"
                names.add(node.module or "")
    return {name for name in names if name.split(".")[0] in {"demo_pairs", "correlate", "dashboard", "tests"}}


@pytest.mark.parametrize(("room", "other"), [("laboratory", "solver"), ("solver", "laboratory")])
def test_packages_are_independent_of_each_other(room: str, other: str) -> None:
    """Every import of ours stays inside the package."""
    found = imported(room)
    assert found
    assert all(name.startswith(f"demo_pairs.{room}") for name in found)
    assert not any(other in name for name in found)


def test_no_function_is_written_twice() -> None:
    """No function of one package has the same body as a function of the other."""

    def bodies(room: str) -> set[str]:
        return {
            ast.dump(ast.Module(body=node.body[1:], type_ignores=[]))
            for path in (PACKAGE / room).rglob("*.py")
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.FunctionDef) and len(node.body) > 2
        }

    assert not bodies("laboratory") & bodies("solver")

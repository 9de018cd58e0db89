"""Rules for the code: style, types and imports."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent
ALLOWED_AT_THE_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "correlate",
    "dashboard",
    "tests",
    "demo_pairs",
    "docs",
}

RUN_WHAT_THEY_READ = frozenset(
    {
        "pickle",
        "cPickle",
        "_pickle",
        "shelve",
        "marshal",
        "dill",
        "cloudpickle",
        "joblib",
        "yaml",
        "diskcache",
    }
)
"""Libraries that read files by running what is in them."""


def run_what_they_read(source: str) -> Iterator[str]:
    """Yield each place of a program that could run what a file of a project holds."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            modules = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names = [*modules, *(one.name for one in node.names)]
            if any(name.partition(".")[0] in RUN_WHAT_THEY_READ for name in names):
                yield f"line {node.lineno}: imports {', '.join(names)}"
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            if called in {"eval", "exec", "builtins.eval", "builtins.exec"} or called.endswith("read_pickle"):
                yield f"line {node.lineno}: calls {called}"
            told = {one.arg: ast.unparse(one.value) for one in node.keywords}
            if called.endswith("import_module") and any(
                isinstance(one, ast.Constant) and one.value in RUN_WHAT_THEY_READ for one in node.args
            ):
                yield f"line {node.lineno}: imports {ast.unparse(node.args[0])}"
            if told.get("allow_pickle", "False") != "False":
                yield f"line {node.lineno}: {called} with pickles"


@pytest.mark.parametrize("folder", ["correlate", "dashboard", "demo_pairs"])
def test_no_file_is_read_by_running_what_is_in_it(folder: str) -> None:
    """A received project is data: nothing of the product unpickles or evaluates a file."""
    found = [
        f"{path.relative_to(ROOT)}, {place}"
        for path in sorted((ROOT / folder).rglob("*.py"))
        for place in run_what_they_read(path.read_text(encoding="utf-8"))
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        "import pickle",
        "import pickle as p, os",
        "from joblib.memory import Memory",
        "import_module('yaml')",
        "eval('1')",
        "exec(text)",
        "np.load(file, allow_pickle=True)",
        "numpy.load(file, allow_pickle=trusted)",
        "pandas.read_pickle(file)",
    ],
)
def test_the_rule_finds_what_it_forbids(source: str) -> None:
    """In whatever form it is written."""
    assert len([*run_what_they_read(source)]) == 1


@pytest.mark.parametrize(
    "command",
    [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
    ],
    ids=" ".join,
)
def test_tool_finds_nothing(command: list[str]) -> None:
    """Ruff and mypy have nothing to say about any file."""
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_import_contracts_hold() -> None:
    """Upper layers import lower ones, never the reverse."""
    program = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([program], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_nothing_else_stands_at_the_top_of_the_tree() -> None:
    """The top level holds the files and folders of the plan, and dotfiles."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {top for top in tops if not top.startswith(".")} <= ALLOWED_AT_THE_TOP

"""Every reader and settings file under mutated input, and the fuzzer on readers whose defects are known."""

from __future__ import annotations

import json
import subprocess
import sys
import time
import warnings
from random import Random
from typing import TYPE_CHECKING

import pytest

from correlate.errors import CorrelateError, FormatError
from tests.fuzz.lines import ROOT
from tests.fuzz.mutations import LARGEST, Case, mutated
from tests.fuzz.rounds import Round, Target, UnusableSeedError
from tests.fuzz.targets import TARGETS
from tests.fuzz.watching import Wrong

if TYPE_CHECKING:
    from pathlib import Path

SEED: Case = {
    "a.toml": b'[a]\nb = 1\nc = "text"\n',
    "b.json": b'{"a": [1, {"b": "c"}]}',
    "c.csv": b"t,x\n0,1\n1,2\n",
}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, object]]:
    """Run all targets in a process of its own, which is limited in memory; return what each did."""
    folder = tmp_path_factory.mktemp("fuzz")
    log = folder / "log.jsonl"
    command = [sys.executable, "-m", "tests.fuzz", "--save", str(folder / "failing"), "--log", str(log)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    assert lines, done.stderr
    ended = {line["target"]: line for line in lines if line["inputs"]}
    if len(ended) < len(TARGETS):
        pytest.fail(f"the process ended at {lines[-1]['target']}:\n{done.stdout}\n{done.stderr[-4000:]}")
    return ended


@pytest.mark.parametrize("name", TARGETS)
def test_a_reader_accepts_or_refuses_in_a_sentence(name: str, told: dict[str, dict[str, object]]) -> None:
    """No other exception, no hang, no growth, nothing written elsewhere, and what is accepted is valid."""
    found = told[name]
    assert found["inputs"] == TARGETS[name].inputs
    assert found["findings"] == {}
    assert found["lines"], "no line of the modules under test was reached"


# The fuzzer itself --------------------------------------------------------------------------------------


def a_target(run: object, **other: object) -> Target:
    """Return a target with a small seed of three files."""
    given = {"name": "invented", "seeds": lambda _: [SEED], "run": run, "traced": ("tests/fuzz",)} | other
    return Target(**given)  # type: ignore[arg-type]


def findings(target: Target, folder: Path, *, inputs: int = 40, seed: int = 1) -> list[str]:
    """Run a target in this process and return what was found."""
    one = Round(target, folder / f"work-{seed}", seed=seed, save=folder / "save")
    one.prepare(memory=False)
    return list(one.run(inputs, float("inf")).findings.values())


def changed(files: Path) -> bool:
    """Say whether the first file is not that of the seed."""
    path = files / "a.toml"
    return not path.is_file() or path.read_bytes() != SEED["a.toml"]


def raise_other(files: Path) -> None:
    """Fail as a reader that forgot a case does."""
    if changed(files):
        raise LookupError("b")


def refuse_badly(files: Path) -> None:
    """Refuse without a place or a remedy."""
    if changed(files):
        raise CorrelateError("no")


def warn(files: Path) -> None:
    """Warn, as numpy does of an overflow."""
    if changed(files):
        warnings.warn("overflow", RuntimeWarning, stacklevel=1)


def accept_nonsense(files: Path) -> None:
    """Accept what is not valid."""
    if changed(files):
        raise Wrong("nan")


def write_elsewhere(files: Path) -> None:
    """Write beside the folder that a reader may write into."""
    if changed(files):
        (files.parent.parent / "elsewhere").write_text("x", encoding="utf-8")


def change_the_input(files: Path) -> None:
    """Write into a file of the input."""
    if changed(files):
        (files / "c.csv").write_bytes(b"")


def take_for_ever(files: Path) -> None:
    """Never end."""
    while changed(files):
        time.process_time()


def grow(files: Path, sizes: list[int] = [400_000_000]) -> None:  # noqa: B006 - taken once
    """Take 400 MB of memory, the first time."""
    if changed(files) and sizes:
        assert b"x" * sizes.pop()


@pytest.mark.parametrize(
    ("run", "said"),
    [
        (raise_other, "LookupError: at "),
        (refuse_badly, "neither a place nor a remedy"),
        (warn, "RuntimeWarning: at "),
        (accept_nonsense, "result: nan"),
        (write_elsewhere, "outside: open "),
        (change_the_input, "input: the files of the input were changed"),
        (grow, "memory: the process grew by "),
    ],
)
def test_a_planted_defect_is_found(run: object, said: str, tmp_path: Path) -> None:
    """Each kind of defect is found, once, and its input is saved."""
    found = findings(a_target(run), tmp_path)
    assert len(found) == 1
    assert said in found[0]
    [saved] = (tmp_path / "save" / "invented").iterdir()
    assert changed(saved)


def test_an_endless_loop_is_interrupted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An input that takes longer than the limit is a finding, and the next one runs."""
    monkeypatch.setattr("tests.fuzz.watching.SLOWEST_S", 0.05)
    found = findings(a_target(take_for_ever), tmp_path, inputs=3)
    assert found
    assert all(one.startswith("slow: ") for one in found)


def test_a_reader_that_refuses_well_has_no_finding(tmp_path: Path) -> None:
    """A sentence with place and remedy is what is expected."""

    def refuse(files: Path) -> None:
        if changed(files):
            raise FormatError("it is not valid", where="a.toml", remedy="correct it")

    assert findings(a_target(refuse), tmp_path) == []


def test_a_seed_that_is_refused_is_an_error_of_the_target(tmp_path: Path) -> None:
    """Otherwise every input would be refused, and nothing tested."""

    def refuse(_: Path) -> None:
        raise FormatError("it is not valid", where="a.toml", remedy="correct it")

    with pytest.raises(UnusableSeedError, match=r"invented: refused: a\.toml: it is not valid"):
        findings(a_target(refuse), tmp_path)


def look_for_digits(files: Path) -> None:
    """Read a file in three branches."""
    text = (files / "c.csv").read_bytes() if (files / "c.csv").is_file() else b""
    lines = len(text.split(b"\n"))
    if lines > 5:
        lines -= 1
    if b"nan" in text:
        lines += 1
    assert lines


@pytest.mark.parametrize(("traced", "most"), [("tests/fuzz", 2), ("docs", 0)])
def test_inputs_that_reach_new_lines_are_mutated_further(traced: str, most: int, tmp_path: Path) -> None:
    """They are kept, once for each new line; nothing is kept where no line is looked at."""
    one = Round(a_target(look_for_digits, traced=(traced,)), tmp_path, seed=1, save=tmp_path / "save")
    one.prepare(memory=False)
    told = one.run(100, float("inf"))
    assert min(1, most) <= told.kept <= most
    assert (told.lines > 0) == (most > 0)


def test_a_seed_names_the_same_inputs_every_time() -> None:
    """Equal numbers give equal inputs, others do not; a mutation is never larger than allowed."""

    def drawn(seed: int) -> list[Case]:
        random = Random(seed)  # noqa: S311 - repeatable, not secret
        return [mutated(SEED, [SEED], random) for _ in range(300)]

    assert drawn(1) == drawn(1)
    assert drawn(1) != drawn(2)
    assert all(len(content) <= LARGEST for case in drawn(3) for content in case.values())


def test_fixed_files_stay() -> None:
    """Files that a target names as fixed are never changed."""
    random = Random(1)  # noqa: S311 - repeatable, not secret
    assert all(
        mutated(SEED, [SEED], random, fixed={"a.toml"})["a.toml"] == SEED["a.toml"] for _ in range(200)
    )

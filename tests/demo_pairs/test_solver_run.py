"""The solver as a program: files, log, exit codes, and nothing half-written."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from demo_pairs.solver import run
from demo_pairs.solver import run as load_cases
from demo_pairs.solver.deck import DeckError
from demo_pairs.solver.history import History, write_text
from demo_pairs.solver.run import LOAD_CASES, run_deck

ROOT = Path(__file__).parents[2]
DECK = ROOT / "demo_pairs" / "decks" / "A1.deck"


def solver(*words: str) -> subprocess.CompletedProcess[str]:
    """Run the program."""
    return subprocess.run(
        [sys.executable, "-m", "demo_pairs.solver", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the results of deck A1, all load cases."""
    out = tmp_path_factory.mktemp("A1")
    run_deck(DECK, out)
    return out


def test_one_file_a_load_case_and_a_log(results: Path) -> None:
    """Every load case has its file, the log names deck, units, materials and normal ends."""
    names = sorted(path.name for path in results.iterdir())
    assert names == sorted([*(f"{name}.csv" for name in LOAD_CASES), "run.log"])
    log = (results / "run.log").read_text(encoding="utf-8")
    assert log.startswith("deck A1 (A1.deck, sha256 ")
    assert "  rib_stiffness = 36 N/mm\n" in log
    assert log.count("normal end") == len(LOAD_CASES)


@pytest.mark.parametrize("name", LOAD_CASES)
def test_files_are_plain_tables_with_units(results: Path, name: str) -> None:
    """The header names every column with its unit; time runs from 0 in steps of 0.1 ms or finer."""
    path = results / f"{name}.csv"
    header = path.read_text(encoding="ascii").splitlines()[0].split(", ")
    assert header[0] == "time [ms]"
    assert all(word.endswith("]") and " [" in word for word in header)
    table = np.loadtxt(path, delimiter=",", skiprows=1)
    assert table.shape[1] == len(header)
    steps = np.diff(table[:, 0])
    assert table[0, 0] == 0.0
    assert steps.max() < 0.1 + 1e-9
    assert steps == pytest.approx(steps[0])


def test_program_gives_the_same_bytes(results: Path, tmp_path: Path) -> None:
    """A separate process, limited to two load cases, writes those two, byte for byte the same."""
    done = solver(str(DECK), "--out", str(tmp_path), "--case", "head-drop", "--case", "knee-impact")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["head-drop.csv", "knee-impact.csv", "run.log"]
    for name in ("head-drop.csv", "knee-impact.csv"):
        assert (tmp_path / name).read_bytes() == (results / name).read_bytes()


def test_bad_deck_ends_with_two_and_one_line(tmp_path: Path) -> None:
    """A wrong unit gives exit code 2, one line with file and line number, and no folder."""
    bad = tmp_path / "bad.deck"
    bad.write_text(DECK.read_text(encoding="utf-8").replace("36 N/mm", "36 kg"), encoding="utf-8")
    done = solver(str(bad), "--out", str(tmp_path / "out"))
    assert done.returncode == 2
    assert done.stderr == f"{bad}, line 10: 'rib_stiffness' has unit 'kg'; it is given in N/mm\n"
    assert not (tmp_path / "out").exists()


def test_help_does_not_load_the_integrator() -> None:
    """Asking for help loads neither numpy nor scipy, so it is quick."""
    program = (
        "import sys; sys.argv = ['solver', '--help']\n"
        "from demo_pairs.solver.__main__ import main\n"
        "try: main()\n"
        "except SystemExit: print(sorted({'numpy', 'scipy'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_case_that_the_deck_lacks_is_refused(tmp_path: Path) -> None:
    """Limiting to a load case outside the deck lists those inside."""
    with pytest.raises(
        DeckError, match=r"the deck has no load case 'tumble'; it has head-drop, neck-flexion"
    ):
        run_deck(DECK, tmp_path / "out", ("tumble",))


def test_failed_load_case_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When one load case cannot be computed, no file of any other appears."""

    def fail(_materials: object) -> History:
        raise ArithmeticError("the integration failed after 3 ms")

    monkeypatch.setitem(load_cases.LOAD_CASES, "knee-impact", fail)
    with pytest.raises(ArithmeticError, match=r"'knee-impact' cannot be computed: the integration failed"):
        run_deck(DECK, tmp_path / "out", ("head-drop", "knee-impact"))
    assert not (tmp_path / "out").exists()


def test_file_is_replaced_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When writing breaks off, the old file stays and no part is left beside it."""
    path = tmp_path / "result.csv"
    write_text(path, "old")

    def broken(self: Path, *_: object, **__: object) -> int:
        with self.open("w", encoding="utf-8") as part:
            part.write("ne")
        raise OSError("no space left")

    monkeypatch.setattr(Path, "write_text", broken)
    with pytest.raises(OSError, match="no space left"):
        write_text(path, "new")
    monkeypatch.undo()
    assert [entry.name for entry in tmp_path.iterdir()] == ["result.csv"]
    assert path.read_text(encoding="utf-8") == "old"


def test_numbers_are_rounded_and_have_no_negative_zero() -> None:
    """Rounded to a millionth of the column's magnitude; what lies below is zero; zero has no sign."""
    found = History(
        time=np.array([0.0, 0.1]), columns={"a [mm]": np.array([-1e-12, 1234.56789]), "b [kN]": np.zeros(2)}
    )
    assert found.text() == "time [ms], a [mm], b [kN]\n0,0,0\n0.1,1234.568,0\n"


def test_log_name_is_no_load_case() -> None:
    """The log cannot collide with a result."""
    assert run.LOG not in {f"{name}.csv" for name in LOAD_CASES}

"""The jobs of a build, each writing one part into the folder it is given."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import NoReturn

import correlate.criteria
import correlate.formats.iso13499
import correlate.laboratory
from correlate.parallel import WORKERS
from correlate.temporary import temporary_folder
from correlate.toml import toml_entry
from demo_pairs.history import make_history
from demo_pairs.laboratory import LOAD_CASES, TestRecord, record, repeats
from demo_pairs.laboratory.faults import FAULTS, PlantedFault
from demo_pairs.laboratory.life import LIFE_CASE, LIVES
from demo_pairs.writing import write_record

PROJECT = Path(__file__).parent.parent


def make_test(load_case: str, repeat: int, folder: Path) -> str:
    """Run one repeat in the laboratory and write its test folder; give its name."""
    test = record(load_case, repeat)
    place = folder / "laboratory" / load_case
    place.mkdir(parents=True, exist_ok=True)
    write_record(test, place / test.name)
    return f"test {test.name}"


def make_release(deck: Path, load_cases: tuple[str, ...], folder: Path) -> str:
    """Run the solver on one deck as a separate process; give the name of the release."""
    out = folder / "releases" / deck.stem
    limits = [word for case in load_cases for word in ("--case", case)]
    command = [sys.executable, "-P", "-m", "demo_pairs.solver", str(deck), "--out", str(out), *limits]
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    with subprocess.Popen(
        command, cwd=PROJECT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as solver:

        def end_both(number: int, frame: object) -> NoReturn:  # noqa: ARG001 - the signature is the system's
            solver.kill()
            os._exit(1)

        # Who stops the build ends this process, which must not leave the solver behind.
        before = signal.signal(signal.SIGTERM, end_both)
        _, complaint = solver.communicate()
        signal.signal(signal.SIGTERM, before)
    if solver.returncode != 0:
        raise RuntimeError(complaint.strip() or f"the solver ended with code {solver.returncode}")
    shutil.copyfile(deck, out / deck.name)
    return f"release {deck.stem}"


def make_faults(load_cases: tuple[str, ...], folder: Path) -> str:
    """Write the planted faults of the selected load cases and their manifest."""
    root = folder / "planted_faults"
    root.mkdir(parents=True, exist_ok=True)
    chosen = [fault for fault in FAULTS if fault.load_case in load_cases]
    entries = []
    for fault in chosen:
        healthy = record(fault.load_case, fault.repeat)
        place = root / fault.kind / healthy.name
        place.parent.mkdir(exist_ok=True)
        write_record(fault.plant(healthy), place)
        entries.append(_manifest_entry(fault, healthy))
    head = "# Each folder below is a copy of one healthy test with one fault; they never enter a rating.\n"
    (root / "manifest.toml").write_text("\n".join([head, *entries]), encoding="utf-8", newline="\n")
    return "planted faults"


def _manifest_entry(fault: PlantedFault, healthy: TestRecord) -> str:
    codes = [channel.code for channel in healthy.channels]
    spoilt = [fault.code] if fault.code else codes
    stem = f"{fault.kind}/{healthy.name}/Channel/{healthy.name}"
    files = [f"{stem}.{codes.index(code) + 1:03d}" for code in spoilt]
    values = {
        "kind": fault.kind,
        "load_case": fault.load_case,
        "test": f"{fault.kind}/{healthy.name}",
        "files": files,
        "channels": spoilt,
        "detail": fault.detail,
    }
    return toml_entry("[[fault]]", values)


HERE = Path(__file__).parent
DECKS = HERE / "decks"
MARKER = "built.json"
PROJECT_FILES = ("campaign.toml", "tuning.toml", "tuning.deck", "laboratory.toml")
PROCESSES = 2
Job = Callable[[Path], str]
Progress = Callable[[str, int, int], None]
"""Called with what was made, how many jobs are done, how many there are."""


class BuildError(Exception):
    """The folder cannot be built; the message says why and what to do."""


@dataclass(frozen=True, kw_only=True)
class BuildSelection:
    """What to build: load cases and releases, all by default."""

    cases: tuple[str, ...]
    releases: tuple[str, ...]

    @classmethod
    def of(cls, cases: Sequence[str] = (), releases: Sequence[str] = ()) -> BuildSelection:
        """Check names; empty means all."""
        for word, given, known in (
            ("load case", cases, LOAD_CASES),
            ("release", releases, release_names()),
        ):
            for name in given:
                if name not in known:
                    raise BuildError(f"there is no {word} '{name}'; there are {', '.join(known)}")
        return cls(
            cases=tuple(case for case in LOAD_CASES if not cases or case in cases),
            releases=tuple(name for name in release_names() if not releases or name in releases),
        )


def release_names() -> tuple[str, ...]:
    """Give the names of all model releases."""
    return tuple(sorted(deck.stem for deck in DECKS.glob("*.deck")))


def fingerprint() -> str:
    """Hash of all that the built files depend on: code, seeds, decks, campaign, writer, windows, log."""
    digest = hashlib.sha256()
    writer = Path(correlate.formats.iso13499.__file__).parent
    windows, log = Path(correlate.criteria.__file__).parent, Path(correlate.laboratory.__file__).parent
    for root in (HERE, writer, windows, log):
        for path in sorted(root.rglob("*")):
            if path.suffix in {".py", ".deck", ".toml"}:
                digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def is_current(folder: Path, selection: BuildSelection) -> bool:
    """Say whether the folder already holds the selection, made by this very code."""
    try:
        marker = json.loads((folder / MARKER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return (
        marker.get("fingerprint") == fingerprint()
        and set(selection.cases) <= set(marker.get("cases", []))
        and set(selection.releases) <= set(marker.get("releases", []))
    )


def build(folder: Path, selection: BuildSelection, *, progress: Progress = lambda *_: None) -> bool:
    """Build the folder, unless it is current.

    Everything is made beside the folder and moved in at the end. Files in the folder that the demo
    did not make stay.
    """
    folder = folder.resolve()
    if is_current(folder, selection):
        return False
    if not _is_ours(folder):
        raise BuildError(f"{folder} holds something that this demo did not make; name a new or empty folder")
    with temporary_folder(folder) as beside:
        _run_jobs(_jobs(selection), beside, progress)
        _finish(beside, selection)
        _move_in(beside, folder)
    return True


def _is_ours(folder: Path) -> bool:
    """Say whether the folder is absent, empty or made by an earlier build."""
    if not folder.exists():
        return True
    return folder.is_dir() and ((folder / MARKER).exists() or not any(folder.iterdir()))


def _jobs(selection: BuildSelection) -> list[Job]:
    """Longest first, so that both processes end together."""
    releases: list[Job] = [
        partial(make_release, DECKS / f"{name}.deck", selection.cases) for name in selection.releases
    ]
    tests: list[Job] = [
        partial(make_test, case, repeat) for case in selection.cases for repeat in range(1, repeats(case) + 1)
    ]
    lives: list[Job] = [partial(make_history, life) for life in LIVES if LIFE_CASE in selection.cases]
    return [*releases, *lives, partial(make_faults, selection.cases), *tests]


def _run_jobs(jobs: list[Job], folder: Path, progress: Progress) -> None:
    with ProcessPoolExecutor(max_workers=PROCESSES, mp_context=WORKERS) as pool:
        futures: list[Future[str]] = [pool.submit(job, folder) for job in jobs]
        try:
            for done, future in enumerate(as_completed(futures), start=1):
                progress(future.result(), done, len(jobs))
        except OSError:
            pool.shutdown(cancel_futures=True)
            raise
        except Exception as error:
            pool.shutdown(cancel_futures=True)
            raise BuildError(f"the demo cannot be built: {error}") from error


def _finish(beside: Path, selection: BuildSelection) -> None:
    for name in PROJECT_FILES:
        if (HERE / name).exists():
            shutil.copyfile(HERE / name, beside / name)
    marker = {
        "fingerprint": fingerprint(),
        "cases": list(selection.cases),
        "releases": list(selection.releases),
    }
    (beside / MARKER).write_text(json.dumps(marker, indent=2) + "\n", encoding="utf-8")


def _move_in(beside: Path, folder: Path) -> None:
    """Put what was made in place, the marker last: a half-moved folder is ours, and is not current."""
    folder.mkdir(exist_ok=True)
    (folder / MARKER).write_text("{}\n", encoding="utf-8")
    outgoing = beside / "outgoing"
    outgoing.mkdir()
    for made in sorted(beside.iterdir(), key=lambda path: path.name == MARKER):
        if made == outgoing:
            continue
        place = folder / made.name
        if place.exists():
            place.replace(outgoing / made.name)
        made.replace(place)

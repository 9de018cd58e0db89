"""Build the project folder of the demo: laboratory tests, model releases, planted faults.

Layout::

    FOLDER/campaign.toml                          when demo_pairs/campaign.toml exists
    FOLDER/tuning.toml, tuning.deck               how the material cards of A1 may be tuned, and the template
    FOLDER/laboratory/<load-case>/<TEST>/         ISO/TS 13499 test folders
    FOLDER/releases/<release>/<load-case>.csv     solver output, with the deck and the run log
    FOLDER/planted_faults/                        copies with one fault each, and manifest.toml
    FOLDER/built.json                             what was built from which code
"""

import hashlib
import json
import multiprocessing
import shutil
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import correlate.formats.iso13499
from demo_pairs.laboratory import LOAD_CASES, repeats
from demo_pairs.making import make_faults, make_release, make_test

HERE = Path(__file__).parent
DECKS = HERE / "decks"
MARKER = "built.json"
PROJECT_FILES = ("campaign.toml", "tuning.toml", "tuning.deck")
PROCESSES = 2
Job = Callable[[Path], str]
Progress = Callable[[str, int, int], None]
"""Called with what was made, how many jobs are done, how many there are."""


class BuildError(Exception):
    """The folder cannot be built; the message says why and what to do."""


@dataclass(frozen=True, kw_only=True)
class Selection:
    """What to build: load cases and releases, all by default."""

    cases: tuple[str, ...]
    releases: tuple[str, ...]

    @classmethod
    def of(cls, cases: Sequence[str] = (), releases: Sequence[str] = ()) -> "Selection":
        """Check names; empty means all.

        Raises
        ------
        BuildError
            A name is unknown.
        """
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
    """Hash of everything the built files depend on: code, seeds, decks, campaign, the writer."""
    digest = hashlib.sha256()
    writer = Path(correlate.formats.iso13499.__file__).parent
    for root in (HERE, writer):
        for path in sorted(root.rglob("*")):
            if path.suffix in {".py", ".deck", ".toml"}:
                digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def is_current(folder: Path, selection: Selection) -> bool:
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


def build(folder: Path, selection: Selection, *, progress: Progress = lambda *_: None) -> bool:
    """Build the folder, unless it is current.

    Everything is made beside the folder and moved in at the end. Files in the folder that the demo
    did not make stay.

    Parameters
    ----------
    folder
        Where; made when absent.
    selection
        Load cases and releases.
    progress
        Told about every finished job.

    Returns
    -------
    bool
        False when there was nothing to do.

    Raises
    ------
    BuildError
        The folder holds something else, or a job failed.
    """
    folder = folder.resolve()
    if is_current(folder, selection):
        return False
    if not _is_ours(folder):
        raise BuildError(f"{folder} holds something that this demo did not make; name a new or empty folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=".part", dir=folder.parent))
    try:
        _run_jobs(_jobs(selection), beside, progress)
        _finish(beside, selection)
        _move_in(beside, folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return True


def _is_ours(folder: Path) -> bool:
    """Say whether the folder is absent, empty or made by an earlier build."""
    if not folder.exists():
        return True
    return folder.is_dir() and ((folder / MARKER).exists() or not any(folder.iterdir()))


def _jobs(selection: Selection) -> list[Job]:
    """Longest first, so that both processes end together."""
    releases: list[Job] = [
        partial(make_release, DECKS / f"{name}.deck", selection.cases) for name in selection.releases
    ]
    tests: list[Job] = [
        partial(make_test, case, repeat) for case in selection.cases for repeat in range(1, repeats(case) + 1)
    ]
    return [*releases, partial(make_faults, selection.cases), *tests]


def _run_jobs(jobs: list[Job], folder: Path, progress: Progress) -> None:
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=PROCESSES, mp_context=context) as pool:
        futures: list[Future[str]] = [pool.submit(job, folder) for job in jobs]
        try:
            for done, future in enumerate(as_completed(futures), start=1):
                progress(future.result(), done, len(jobs))
        except Exception as error:
            pool.shutdown(cancel_futures=True)
            raise BuildError(f"the demo cannot be built: {error}") from error


def _finish(beside: Path, selection: Selection) -> None:
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
    """Put what was made in place, the marker last: a half-moved folder counts as not current."""
    folder.mkdir(exist_ok=True)
    (folder / MARKER).unlink(missing_ok=True)
    outgoing = beside / "outgoing"
    outgoing.mkdir()
    for made in sorted(beside.iterdir(), key=lambda path: path.name == MARKER):
        if made == outgoing:
            continue
        place = folder / made.name
        if place.exists():
            place.replace(outgoing / made.name)
        made.replace(place)

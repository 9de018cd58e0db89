"""Taking in results of runs that were made elsewhere."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from correlate.errors import FormatError, SettingsError
from correlate.files import whole_folder
from correlate.tuning.deck import Deck, DeckWriter
from correlate.tuning.lock import lock_of_project
from correlate.tuning.record import LOG, NAME, RunRecord, write_record
from correlate.tuning.running import log_tail
from correlate.tuning.state import read_state

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from correlate.tuning.definition import Tuning
    from correlate.tuning.points import DesignPoint

VALUES = "values.json"
"""File of parameter values by name, in the place of a deck."""


@dataclass(frozen=True, slots=True)
class Collected:
    """What came of taking in a folder.

    Attributes
    ----------
    taken
        Records of the runs that were taken in; not rated yet.
    known
        Names of the points that have a run already; their results were left alone.
    """

    taken: tuple[RunRecord, ...]
    known: tuple[str, ...]


def write_decks(tuning: Tuning, folder: Path) -> list[str]:
    """Write the decks of all points that have not been run, one folder each, to be run elsewhere.

    Parameters
    ----------
    tuning
        The project.
    folder
        Where; it must be absent or empty.

    Returns
    -------
    list of str
        Names of the points.

    Raises
    ------
    CorrelateError
        A deck cannot be written, or the folder holds something.
    """
    decks = DeckWriter(tuning)
    missing = read_state(tuning).missing()
    with whole_folder(folder) as beside:
        for point in missing:
            place = beside / point.identity
            place.mkdir()
            text = decks.write(point.values, name=point.identity).text
            (place / tuning.deck.file).write_bytes(text.encode("utf-8"))
    return [point.identity for point in missing]


def collect(tuning: Tuning, folder: Path) -> Collected:
    """Take in results of runs that were made elsewhere.

    Parameters
    ----------
    tuning
        The project.
    folder
        One folder a run in it. Each holds the deck that was run, or ``values.json``, which say what point it
        is, and the results, in ``output`` or beside them.

    Returns
    -------
    Collected

    Raises
    ------
    FormatError
        The folder holds no runs.
    SettingsError
        A run is of no design point; nothing is taken in then.
    """
    if not folder.is_dir():
        raise FormatError("there is no such folder", where=str(folder), remedy="name a folder of runs")
    places = sorted(place for place in folder.iterdir() if place.is_dir() and not place.name.startswith("."))
    if not places:
        raise FormatError("there are no runs in the folder", where=str(folder), remedy="one folder per run")
    tuning.runs_folder.mkdir(exist_ok=True)
    with lock_of_project(tuning.runs_folder):
        state = read_state(tuning)
        by_hash = _by_hash(tuning, state.points)
        matched = [(place, _point_of(place, tuning, state.points, by_hash)) for place in places]
        _refuse(tuning, folder, matched)
        taken: list[RunRecord] = []
        known = []
        for place, point in matched:
            if point is None:
                continue
            if point.identity in state.records:
                known.append(point.identity)
                continue
            deck = next(key for key, one in by_hash.items() if one is point)
            taken.append(_take(tuning, place, point, deck))
    return Collected(tuple(taken), tuple(known))


def _by_hash(tuning: Tuning, points: tuple[DesignPoint, ...]) -> dict[str, DesignPoint]:
    decks = DeckWriter(tuning)
    return {decks.write(one.values, name=one.identity).sha256: one for one in points}


def _point_of(
    place: Path, tuning: Tuning, points: tuple[DesignPoint, ...], by_hash: Mapping[str, DesignPoint]
) -> DesignPoint | None:
    """Return the design point of a run, by its deck, else by its values."""
    deck = place / tuning.deck.file
    if deck.is_file():
        # Line ends may have changed on the way between machines; they are no part of a deck.
        text = deck.read_bytes().replace(b"\r\n", b"\n").decode("utf-8", errors="replace")
        return by_hash.get(Deck(text).sha256)
    try:
        values: Any = json.loads((place / VALUES).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except ValueError as error:
        raise FormatError(
            "cannot be read", where=str(place / VALUES), remedy="write names and numbers"
        ) from error
    return next((one for one in points if one.values == values), None)


def _refuse(tuning: Tuning, folder: Path, matched: list[tuple[Path, DesignPoint | None]]) -> None:
    strangers = [place.name for place, point in matched if point is None]
    if strangers:
        raise SettingsError(
            f"of no design point: {', '.join(strangers)}",
            where=str(folder),
            remedy=f"keep '{tuning.deck.file}' as it was written, or add '{VALUES}' with the values of "
            f"a line of '{tuning.design_file.name}'; nothing was imported",
        )
    seen: dict[str, str] = {}
    for place, point in matched:
        if point is not None and seen.setdefault(point.identity, place.name) != place.name:
            raise SettingsError(
                f"'{seen[point.identity]}' and '{place.name}' are both point '{point.identity}'",
                where=str(folder),
                remedy="remove one; nothing was imported",
            )


def _take(tuning: Tuning, place: Path, point: DesignPoint, deck_sha256: str) -> RunRecord:
    """Copy deck, log and results of one run, and write its record last."""
    target = tuning.run_folder(point.identity)
    shutil.rmtree(target, ignore_errors=True)  # at most what a stopped run left
    record = RunRecord(
        identity=point.identity,
        values=dict(point.values),
        deck_sha256=deck_sha256,
        status="done",
        collected_from=str(place.resolve()),
        log_tail=log_tail(place / LOG, tuning.run.log_lines),
    )
    with whole_folder(target) as beside:
        inner = place / "output"
        own = {tuning.deck.file, VALUES, LOG, NAME, "lock"}
        (beside / "output").mkdir()
        for entry in sorted(inner.iterdir() if inner.is_dir() else place.iterdir()):
            if inner.is_dir() or entry.name not in own:
                _copy(entry, beside / "output" / entry.name)
        for name in sorted(own - {NAME, "lock"}):
            if (place / name).is_file():
                shutil.copyfile(place / name, beside / name)
        write_record(beside, record)
    return record


def _copy(entry: Path, target: Path) -> None:
    if entry.is_dir():
        shutil.copytree(entry, target)
    else:
        shutil.copyfile(entry, target)

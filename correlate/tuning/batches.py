"""Batches of proposals: added to the design table, kept with their predictions until they are confirmed."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from correlate.errors import FormatError, SettingsError
from correlate.files import write_json
from correlate.tuning.points import next_number, points_of, write_points
from correlate.tuning.proposals import Predicted, Proposal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.tuning.definition import Tuning
    from correlate.tuning.points import DesignPoint
    from correlate.tuning.state import TuningState


def batch_file(tuning: Tuning, round_number: int) -> Path:
    """Return the file of a batch."""
    return tuning.folder / "batches" / f"round-{round_number}.json"


def last_round(state: TuningState) -> int:
    """Return the number of the last batch; 0 for the design."""
    return max((one.round for one in state.points), default=0)


def add_batch(tuning: Tuning, state: TuningState, proposals: Sequence[Proposal]) -> list[DesignPoint]:
    """Add proposals to the design table as the next round, and keep what was predicted of them.

    Parameters
    ----------
    tuning
        The project.
    state
        Its points and records.
    proposals
        The batch.

    Returns
    -------
    list of DesignPoint
        Those that were added; their values are rounded as those of a design.

    Raises
    ------
    FormatError
        The folder may not be written to.
    """
    number = last_round(state) + 1
    first = next_number(state.points)
    added = [
        points_of(tuning.space, one.point[None, :], round_number=number, first=first + place)[0]
        for place, one in enumerate(proposals)
    ]
    lines = [_line(one, point) for one, point in zip(proposals, added, strict=True)]
    file = batch_file(tuning, number)
    file.parent.mkdir(exist_ok=True)
    # The predictions first: stopped in between, the batch was never made, and its file is written anew.
    write_json(file, lines)
    write_points(tuning.design_file, tuning.space, [*state.points, *added])
    return added


def read_batch(tuning: Tuning, round_number: int) -> tuple[Proposal, ...]:
    """Read what was predicted of a batch.

    Parameters
    ----------
    tuning
        The project.
    round_number
        From 1.

    Returns
    -------
    tuple of Proposal

    Raises
    ------
    SettingsError
        There is no such batch.
    FormatError
        The file is none.
    """
    file = batch_file(tuning, round_number)
    try:
        lines: Any = json.loads(file.read_text(encoding="utf-8"))
        return tuple(_proposal(tuning, line) for line in lines)
    except FileNotFoundError as error:
        raise SettingsError(
            f"round {round_number} was not proposed here, so nothing was predicted of it",
            where=str(file),
            remedy="propose runs with 'correlate tune propose'",
        ) from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise FormatError(
            "is not a batch of proposals", where=str(file), remedy="propose the runs again"
        ) from error


def _line(proposal: Proposal, point: DesignPoint) -> dict[str, Any]:
    return {
        "point": point.identity,
        "values": point.values,
        "predicted": {name: asdict(said) for name, said in proposal.predicted.items()},
        "best": dict(proposal.best),
        "chance_of_limits": proposal.chance_of_limits,
        "chance_of_success": proposal.chance_of_success,
        "reason": proposal.reason,
    }


def _proposal(tuning: Tuning, line: dict[str, Any]) -> Proposal:
    return Proposal(
        point=tuning.space.as_point(line["values"]),
        predicted={name: Predicted(**said) for name, said in line["predicted"].items()},
        best=line["best"],
        chance_of_limits=line["chance_of_limits"],
        chance_of_success=line["chance_of_success"],
        reason=line["reason"],
    )

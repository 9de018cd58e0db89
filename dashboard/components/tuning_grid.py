"""The table of runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import dash_ag_grid as dag
import numpy as np

from dashboard import ids

if TYPE_CHECKING:
    from correlate import TuningOverview


def runs_grid() -> dag.AgGrid:
    """Return the table, empty until the runs are read.

    Returns
    -------
    dash_ag_grid.AgGrid
    """
    return dag.AgGrid(
        id=ids.TUNING_GRID,
        columnDefs=[],
        rowData=[],
        defaultColDef={"sortable": True, "filter": True, "resizable": True, "minWidth": 84},
        dashGridOptions={
            "domLayout": "normal",
            "rowHeight": 34,
            "headerHeight": 40,
            "animateRows": False,
            "suppressCellFocus": False,
            "enableCellTextSelection": True,
            "tooltipShowDelay": 300,
        },
        className="runs-grid",
        style={"height": "360px"},
    )


def columns(overview: TuningOverview) -> list[dict[str, Any]]:
    """Return the columns: name, round, end, ratings, parameters.

    Parameters
    ----------
    overview
        Of the project.

    Returns
    -------
    list of dict
    """
    found: list[dict[str, Any]] = [
        {"field": "run", "headerName": "Run", "pinned": "left", "width": 96},
        {"field": "round", "headerName": "Round", "width": 92, "filter": "agNumberColumnFilter"},
        {"field": "end", "headerName": "End", "width": 110, "tooltipField": "why"},
    ]
    for place, name in enumerate(shown_outcomes(overview)):
        found.append(_number(f"outcome {place}", name.removeprefix("load case/")))
    for place, one in enumerate(overview.table.space.parameters):
        found.append(_number(f"parameter {place}", f"{one.name} [{one.unit}]"))
    return found


def rows(overview: TuningOverview) -> list[dict[str, Any]]:
    """Return a line for each run; what a run does not have is left empty.

    Parameters
    ----------
    overview
        Of the project.

    Returns
    -------
    list of dict
    """
    table, names = overview.table, shown_outcomes(overview)
    found = []
    for row, name in enumerate(table.identities):
        record = overview.state.records.get(name)
        line: dict[str, Any] = {
            "run": name,
            "round": int(table.rounds[row]),
            "end": table.status[row],
            "why": record.message if record else "",
        }
        for place, outcome in enumerate(names):
            value = float(table.outcomes[outcome][row])
            line[f"outcome {place}"] = round(value, 4) if np.isfinite(value) else None
        for place, value in enumerate(table.points[row].tolist()):
            line[f"parameter {place}"] = float(f"{value:.5g}")
        found.append(line)
    return found


def shown_outcomes(overview: TuningOverview) -> list[str]:
    """Name the outcomes that are shown: what is raised, then training, held-out and load cases.

    Parameters
    ----------
    overview
        Of the project.

    Returns
    -------
    list of str
    """
    known = overview.table.outcomes
    cases = [name for name in known if name.startswith("load case/")]
    wanted = [*overview.tuning.goal.outcomes, "train", "held-out", *cases]
    return [name for name in dict.fromkeys(wanted) if name in known]


def _number(field: str, name: str) -> dict[str, Any]:
    return {
        "field": field,
        "headerName": name,
        "headerTooltip": name,
        "width": 138,
        "type": "rightAligned",
        "filter": "agNumberColumnFilter",
    }

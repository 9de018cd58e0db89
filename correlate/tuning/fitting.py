"""Fitting the surrogate, and the fit that is saved."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.display import frame, short_repr
from correlate.errors import FormatError, SettingsError
from correlate.files import write_text
from correlate.plain_files import read_json
from correlate.tuning.bounds import bound_gains
from correlate.tuning.gaussian_process import GaussianProcess, LeaveOneOut, ProcessSettings
from correlate.tuning.guards import needed_outcomes
from correlate.tuning.predicted import NO_CALIBRATION, Predicted
from correlate.tuning.prediction import fit_predictor
from correlate.tuning.proposals import RunProposal, propose
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN
from correlate.tuning.sensitivity import Indices, Sensitivity, sensitivity
from correlate.tuning.surrogate import LEAST_RUNS, Surrogate, fit_surrogates

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from pandas import DataFrame

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.fitted_curves import FittedCurves
    from correlate.tuning.predicted import Calibration
    from correlate.tuning.prediction import OutcomePredictor
    from correlate.tuning.runs import RunTable


RATINGS: Final = "load case/"
"""How the names of the ratings of load cases begin."""

_FITTING: Final = 0.6
_SENSING: Final = 0.3


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TuningFit:
    """What the runs of a project say.

    Attributes
    ----------
    surrogates
        By outcome: what is to be raised, what must be kept, then the ratings.
    sensitivities
        Of those that move and are ratings, by outcome.
    proposals
        The next runs; none where the surrogates are not to be trusted.
    refusal
        Why there are no proposals; empty when there are.
    bounds
        Sentences about bounds at which the best runs lie, with what widening them may gain.
    runs_sha256
        Of the runs it was made from.
    """

    surrogates: dict[str, Surrogate]
    sensitivities: dict[str, Sensitivity]
    proposals: tuple[RunProposal, ...]
    refusal: str
    bounds: tuple[str, ...]
    runs_sha256: str

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per outcome and parameter with its influence.

        Returns
        -------
        pandas.DataFrame
            ``outcome``, ``parameter``, Sobol' indices ``first`` and ``total``, ``change``, ``q2``.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(
            {
                "outcome": outcome,
                "parameter": name,
                "first": float(found.indices.first[place]),
                "total": float(found.indices.total[place]),
                "change": float(found.change[place]),
                "q2": found.q2,
            }
            for outcome, found in self.sensitivities.items()
            for place, name in enumerate(found.names)
        )


def fit_everything(
    table: RunTable,
    goal: TuningGoal,
    *,
    curves: FittedCurves | None = None,
    calibration: Mapping[str, Calibration] = NO_CALIBRATION,
    runs: int = 8,
    seed: int = 0,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> TuningFit:
    """Fit the surrogates of a project, ask them what moves the ratings, and propose the next runs."""
    names = fitted_outcomes(table, goal)
    surrogates: dict[str, Surrogate] = {}
    for place, name in enumerate(names):
        progress(_FITTING * place / len(names), f"fitting {name}")
        surrogates |= fit_surrogates(table, [name])
    moving = [name for name in names if not surrogates[name].flat and not name.startswith("window/")]
    found: dict[str, Sensitivity] = {}
    for place, name in enumerate(moving):
        progress(_FITTING + _SENSING * place / len(moving), f"asking what moves {name}")
        found[name] = sensitivity(surrogates[name], seed=seed)
    progress(_FITTING + _SENSING, "looking for the next runs")
    proposals: tuple[RunProposal, ...] = ()
    refusal = ""
    bounds: tuple[str, ...] = ()
    try:
        predictor = predictor_of(table, goal, curves)
        bounds = tuple(one.words for one in bound_gains(table, predictor, goal))
        proposals = propose(table, predictor, goal, runs, seed, calibration=calibration)
    except SettingsError as error:
        refusal = str(error)
    return TuningFit(
        surrogates=surrogates,
        sensitivities=found,
        proposals=proposals,
        refusal=refusal,
        bounds=bounds,
        runs_sha256=runs_sha256(table),
    )


def predictor_of(table: RunTable, goal: TuningGoal, curves: FittedCurves | None) -> OutcomePredictor:
    """Fit the predictor of the outcomes that a proposal needs."""
    needed = needed_outcomes(table, goal)
    if curves is None:
        return fit_predictor(table, needed)
    return fit_predictor(table, needed, curves.emulator, curves.rater)


def fitted_outcomes(table: RunTable, goal: TuningGoal) -> list[str]:
    """Name the outcomes to fit: what is to be raised and kept, then the ratings that enough runs have."""
    ratings = [
        name
        for name, values in table.outcomes.items()
        if (name in {TRAIN, HELD_OUT, OVERALL} or name.startswith(RATINGS))
        and int((values == values)[table.done].sum()) >= LEAST_RUNS  # noqa: PLR0124 - only nan differs
    ]
    return list(dict.fromkeys([*needed_outcomes(table, goal), *ratings]))


def runs_sha256(table: RunTable) -> str:
    """Return the hash of everything that a fit is made from."""
    found = hashlib.sha256(repr((table.space.names, table.status, sorted(table.outcomes))).encode())
    for values in (table.points, table.space.lower, table.space.upper):
        found.update(values.tobytes())
    for name in sorted(table.outcomes):
        found.update(table.outcomes[name].tobytes())
    return found.hexdigest()


FILE: Final = "fit.json"
"""Name beside the tuning file."""

_FORM: Final = 2


def write_fit(path: Path, fit: TuningFit, table: RunTable) -> None:
    """Write a fit, completely or not at all."""
    write_text(path, fit_text(fit, table))


def fit_text(fit: TuningFit, table: RunTable) -> str:
    """Return a fit as the text of its file."""
    content = {
        "form": _FORM,
        "runs_sha256": fit.runs_sha256,
        "parameters": list(table.space.names),
        "refusal": fit.refusal,
        "bounds": list(fit.bounds),
        "surrogates": [_surrogate_line(one, table) for one in fit.surrogates.values()],
        "sensitivities": [_plain(asdict(one)) for one in fit.sensitivities.values()],
        "proposals": [_plain(asdict(one)) for one in fit.proposals],
    }
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def read_fit(path: Path, table: RunTable) -> TuningFit | None:
    """Read a fit and condition its processes on the runs again."""
    try:
        content: Any = read_json(path)
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise _no_fit(path, "it cannot be read") from error
    if not isinstance(content, dict) or content.get("form") != _FORM:
        raise _no_fit(path, "it was written by another version of the program")
    if content.get("parameters") != list(table.space.names):
        raise _no_fit(path, "it has other parameters")
    try:
        surrogates = [_surrogate(line, table) for line in content["surrogates"]]
        return TuningFit(
            surrogates={one.outcome: one for one in surrogates},
            sensitivities={line["outcome"]: _sensitivity(line) for line in content["sensitivities"]},
            proposals=tuple(_proposal(line) for line in content["proposals"]),
            refusal=content["refusal"],
            bounds=tuple(content["bounds"]),
            runs_sha256=content["runs_sha256"],
        )
    except (KeyError, TypeError, ValueError, np.linalg.LinAlgError) as error:
        raise _no_fit(path, "it does not fit these runs") from error


def _surrogate_line(one: Surrogate, table: RunTable) -> dict[str, Any]:
    return {
        "outcome": one.outcome,
        "runs": [table.identities[row] for row in one.rows],
        "weights": [float(weight) for weight in one.weights],
        "parts": list(one.parts),
        "constant": float(one.constant),
        "left_out": _plain(asdict(one.left_out)),
        "processes": [_process_line(process) for process in one.processes],
    }


def _process_line(process: GaussianProcess) -> dict[str, Any]:
    settings = process.settings
    return {
        "centre": process.centre,
        "scale": process.scale,
        "size": settings.size,
        "noise": settings.noise,
        "smoothness": settings.smoothness,
        "lengths": settings.lengths.tolist(),
        "converged": settings.converged,
    }


def _surrogate(line: Mapping[str, Any], table: RunTable) -> Surrogate:
    places = {name: row for row, name in enumerate(table.identities)}
    rows = np.array([places[name] for name in line["runs"]], dtype=np.int64)
    cube = table.space.to_unit(table.points[rows])
    processes = [
        _process(process, cube, np.array(table.outcomes[part][rows]))
        for process, part in zip(line["processes"], line["parts"], strict=True)
    ]
    return Surrogate(
        outcome=line["outcome"],
        space=table.space,
        rows=rows,
        processes=tuple(processes),
        weights=tuple(line["weights"]),
        parts=tuple(line["parts"]),
        constant=line["constant"],
        left_out=LeaveOneOut(**{name: np.array(values) for name, values in line["left_out"].items()}),
    )


def _process(
    line: Mapping[str, Any],
    cube: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    values: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> GaussianProcess:
    settings = ProcessSettings(
        size=line["size"],
        noise=line["noise"],
        smoothness=line["smoothness"],
        lengths=np.array(line["lengths"]),
        converged=line["converged"],
    )
    return GaussianProcess(cube, values, centre=line["centre"], scale=line["scale"], settings=settings)


def _sensitivity(line: Mapping[str, Any]) -> Sensitivity:
    indices = Indices(**{one.name: np.array(line["indices"][one.name]) for one in fields(Indices)})
    return Sensitivity(
        outcome=line["outcome"],
        names=tuple(line["names"]),
        q2=line["q2"],
        indices=indices,
        change=np.array(line["change"]),
    )


def _proposal(line: Mapping[str, Any]) -> RunProposal:
    predicted = {name: Predicted(**said) for name, said in line["predicted"].items()}
    return RunProposal(**{**line, "point": np.array(line["point"]), "predicted": predicted})


def _plain(value: Any) -> Any:
    """Return a value with arrays and their numbers as plain ones."""
    if isinstance(value, dict):
        return {name: _plain(one) for name, one in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return value.tolist()
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def _no_fit(path: Path, why: str) -> FormatError:
    return FormatError(
        f"is not a fit of these runs: {why}", where=str(path), remedy="fit the surrogates again"
    )

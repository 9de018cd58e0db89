"""The emulator of curves in a file beside the fit, written and read."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import FormatError, SettingsError
from correlate.files import whole_file
from correlate.metrics.iso18571 import RatingSettings, Weights
from correlate.plain_files import json_content, read_arrays
from correlate.tuning.curve_sensitivity import curve_sensitivity
from correlate.tuning.emulated import curve_trust
from correlate.tuning.emulator import ChannelEmulator, CurveEmulator, moved, standard_errors
from correlate.tuning.gaussian_process import GaussianProcess, ProcessSettings
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.traces import TraceChannel

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from numpy.typing import NDArray

    from correlate.tuning.curve_sensitivity import CurveSensitivity
    from correlate.tuning.emulated import CurveTrust
    from correlate.tuning.fitted_curves import FittedCurves
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]
    Arrays = Mapping[str, NDArray[Any]]


FILE: Final = "fit.npz"
"""Name beside the tuning file."""
_FORM: Final = 1
_MOST_KEPT: Final = 4


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SavedEmulator:
    """The emulator of curves of a project, with the curves that it was fitted to.

    Attributes
    ----------
    emulator
        Of the curves; without channels if the curves were not emulated.
    identities
        Names of the runs that it was fitted to, in the order of its points.
    curves
        Of each channel, the curve of every run, shape ``(n, t)``; with seven digits when read from a
        file.
    refusal
        Why the curves were not emulated; empty if they were.
    space
        Parameters, with the bounds that define the unit cube.
    settings
        By which the curves are rated.
    fit_sha256
        Hash of the file of the fit that it belongs to; empty until it is saved.
    """

    emulator: CurveEmulator
    identities: tuple[str, ...]
    space: ParameterSpace
    settings: RatingSettings
    curves: tuple[Floats, ...]
    refusal: str = ""
    fit_sha256: str = ""
    _found: dict[tuple[str, int], Any] = field(default_factory=dict, repr=False)

    def sensitivity(self, place: int) -> CurveSensitivity:
        """Return the sensitivity of the curve of a channel over time; computed once."""
        one = self.emulator.channels[place]
        return self._once(  # type: ignore[no-any-return]
            "sensitivity",
            place,
            lambda: curve_sensitivity(one.predict, one.channel.time, len(self.space.parameters)),
        )

    def trust(self, place: int) -> CurveTrust:
        """Return how well the curves of left-out runs of a channel are predicted; computed once."""
        return self._once(  # type: ignore[no-any-return]
            "trust", place, lambda: curve_trust(self.emulator.channels[place], self.curves[place])
        )

    def _once(self, name: str, place: int, make: Callable[[], Any]) -> Any:
        if (name, place) not in self._found:
            self._found[name, place] = make()
        return self._found[name, place]

    def curve_of(self, identity: str, place: int) -> Floats | None:
        """Return the curve of a run, shape ``(t,)``; None if the emulator was not fitted to the run."""
        if identity not in self.identities:
            return None
        return np.asarray(self.curves[place][self.identities.index(identity)])


def emulator_of_project(folder: str | Path) -> SavedEmulator | None:
    """Return the emulator of curves of a tuning project, read again only if it changed; None without one.

    Parameters
    ----------
    folder
        That holds ``tuning.toml``.

    Returns
    -------
    SavedEmulator or None
        Whether it belongs to the saved fit, :func:`~correlate.tuning.overview.tuning_overview` says.

    Raises
    ------
    FormatError
        The file is damaged, or of another version of the program.
    """
    return read_emulator(Path(folder) / FILE)


def emulator_to_save(table: RunTable, fitted: FittedCurves) -> SavedEmulator:
    """Return the emulator of a project as it is saved."""
    traces = fitted.traces
    return SavedEmulator(
        emulator=fitted.emulator,
        identities=tuple(table.identities[row] for row in traces.rows.tolist()),
        curves=traces.curves,
        space=table.space,
        settings=fitted.settings,
    )


def refused_emulator(table: RunTable, why: str) -> SavedEmulator:
    """Return what is saved if the curves cannot be emulated."""
    none = CurveEmulator(
        channels=(), rows=np.zeros(0, dtype=np.int64), cube=np.zeros((0, len(table.space.parameters)))
    )
    return SavedEmulator(
        emulator=none, identities=(), curves=(), refusal=why, space=table.space, settings=RatingSettings()
    )


def write_emulator(path: Path, saved: SavedEmulator, *, fit_text: str) -> None:
    """Write an emulator, completely or not at all.

    Parameters
    ----------
    path
        Of the file.
    saved
        The emulator.
    fit_text
        Content of the file of the fit that it belongs to, to be written afterwards: its hash shows whether
        the two files belong together.
    """
    emulator = saved.emulator
    arrays: dict[str, NDArray[Any]] = {"cube": emulator.cube, "rows": emulator.rows}
    lines = []
    for place, (one, curves) in enumerate(zip(emulator.channels, saved.curves, strict=True)):
        lines.append(_channel_line(one))
        arrays |= {f"{place}/{name}": values for name, values in _channel_arrays(one, curves)}
    head = {
        "form": _FORM,
        "fit_sha256": sha256_of(fit_text),
        "refusal": saved.refusal,
        "identities": list(saved.identities),
        "parameters": [asdict(one) for one in saved.space.parameters],
        "settings": saved.settings.as_dict(),
        "channels": lines,
    }
    with whole_file(path) as stream:
        np.savez(stream, head=np.array(json.dumps(head)), **arrays)  # type: ignore[arg-type]


def sha256_of(text: str) -> str:
    """Return the hash of a file of text."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def read_emulator(path: Path) -> SavedEmulator | None:
    """Read an emulator, again only if the file changed since; None where there is no file.

    Raises
    ------
    FormatError
        The file is damaged, or of another version of the program.
    """
    try:
        seen = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise _no_emulator(path, "it cannot be read") from error
    state = seen.st_mtime_ns, seen.st_size, seen.st_ino
    with _LOCK:
        known = _READ.get(path)
        if known is not None and known[0] == state:
            return known[1]
        found = _read(path)
        _READ[path] = state, found
        while len(_READ) > _MOST_KEPT:
            del _READ[next(iter(_READ))]
        return found


_LOCK: Final = Lock()
_READ: Final[dict[Path, tuple[tuple[int, int, int], SavedEmulator]]] = {}
"""What was read last, by path, with the state of the file."""


def _read(path: Path) -> SavedEmulator:
    try:
        arrays = read_arrays(path)
        head = json_content(str(arrays.pop("head")))
        if head["form"] != _FORM:
            raise _no_emulator(path, "it was written by another version of the program")
        parts = [_channel(line, place, arrays) for place, line in enumerate(head["channels"])]
        emulator = CurveEmulator(
            channels=tuple(one for one, _ in parts), rows=arrays["rows"], cube=arrays["cube"]
        )
        return SavedEmulator(
            emulator=emulator,
            identities=tuple(head["identities"]),
            curves=tuple(curves for _, curves in parts),
            refusal=head["refusal"],
            space=ParameterSpace(tuple(Parameter(**one) for one in head["parameters"])),
            settings=RatingSettings(
                **{**head["settings"], "weights": Weights(**head["settings"]["weights"])}
            ),
            fit_sha256=head["fit_sha256"],
        )
    except (
        OSError,
        ValueError,
        KeyError,
        TypeError,
        SettingsError,
        np.linalg.LinAlgError,
    ) as error:
        raise _no_emulator(path, "it cannot be read") from error


def _no_emulator(path: Path, why: str) -> FormatError:
    return FormatError(
        f"is not a file of emulated curves: {why}", where=str(path), remedy="fit the surrogates again"
    )


def _channel_line(one: ChannelEmulator) -> dict[str, Any]:
    channel = one.channel
    return {
        "load_case": channel.load_case,
        "channel": channel.channel,
        "unit": channel.unit,
        "recorded": channel.recorded,
        "tests": list(channel.tests),
        "share": one.share,
        "widening": one.widening,
        "shifted": one.shift is not None,
        "processes": [_process_line(process) for process in one.every],
    }


def _process_line(process: GaussianProcess) -> dict[str, Any]:
    settings = process.settings
    return {
        "centre": process.centre,
        "scale": process.scale,
        "size": settings.size,
        "noise": settings.noise,
        "smoothness": settings.smoothness,
        "converged": settings.converged,
    }


def _channel_arrays(one: ChannelEmulator, curves: Floats) -> Iterator[tuple[str, NDArray[Any]]]:
    yield "time", one.channel.time
    yield "tests", np.array(list(one.channel.tests.values())).reshape(-1, one.channel.time.size)
    yield "mean", one.mean
    yield "basis", one.basis
    yield "amounts", np.array([process.values for process in one.every])
    yield "lengths", np.array([process.settings.lengths for process in one.every])
    # They are displayed, and their residuals are some ten-thousandths of their size: seven digits suffice.
    yield "curves", curves.astype(np.float32)


def _channel(line: Mapping[str, Any], place: int, arrays: Arrays) -> tuple[ChannelEmulator, Floats]:
    """Return a channel with its processes conditioned on the runs again, and the curves of the runs."""
    of = {
        name: arrays[f"{place}/{name}"] for name in ("time", "tests", "mean", "basis", "lengths", "amounts")
    }
    curves = arrays[f"{place}/curves"].astype(np.float64)
    channel = TraceChannel(
        load_case=line["load_case"],
        channel=line["channel"],
        unit=line["unit"],
        time=of["time"],
        tests=dict(zip(line["tests"], of["tests"], strict=True)),
        recorded=line["recorded"],
    )
    every = tuple(
        GaussianProcess(
            arrays["cube"],
            values,
            centre=one["centre"],
            scale=one["scale"],
            settings=ProcessSettings(
                size=one["size"],
                noise=one["noise"],
                smoothness=one["smoothness"],
                lengths=lengths,
                converged=one["converged"],
            ),
        )
        for one, values, lengths in zip(line["processes"], of["amounts"], of["lengths"], strict=True)
    )
    processes, shift = (every[:-1], every[-1]) if line["shifted"] else (every, None)
    straight = curves if shift is None else moved(curves, -shift.values)
    amounts = np.array([one.values for one in processes]).reshape(len(processes), len(curves)).T
    emulator = ChannelEmulator(
        channel=channel,
        mean=of["mean"],
        basis=of["basis"],
        left=straight - of["mean"] - amounts @ of["basis"] if every else np.zeros_like(curves),
        processes=processes,
        shift=shift,
        share=line["share"],
        widening=line["widening"],
        errors=np.zeros((len(curves), 0)),
        left_out=curves,
    )
    if not every:
        return emulator, curves
    said = [process.left_out() for process in every]
    left_out = emulator.curves(np.array([one.predicted for one in said]).T)
    whole = replace(
        emulator,
        errors=standard_errors(said, emulator.widening),
        left_out=left_out,
        variance=float(np.mean((curves - curves.mean(axis=0)) ** 2)),
        missed=float(np.mean((curves - left_out) ** 2)),
    )
    return whole, curves

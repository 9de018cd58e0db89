"""What Python blocks take for granted, made from the demo project: ``<!-- given: test, model -->``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate import Recipe, align, load_campaign, open_store, read

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate import AlignedPair, Campaign, Signal
    from correlate.evaluation.record import PairRecord

PROJECT = Path("my-project")
"""In the folder that blocks run in."""


def _test(load_case: str, test: str, channel: str) -> Signal:
    return read(PROJECT / "laboratory" / load_case / test).channel(channel)


def _model(load_case: str, channel: str) -> Signal:
    return read(PROJECT / "releases" / "A1" / f"{load_case}.csv").channel(channel)


def _head(axis: str) -> Signal:
    return _test("head-drop", "KELPM_HD01", f"D0HEAD0000KMAC{axis.upper()}P")


def _campaign() -> Campaign:
    return load_campaign(PROJECT)


def _records() -> list[PairRecord]:
    with open_store(PROJECT / "ratings.sqlite") as store:
        return list(store.ratings(campaign=_campaign().title, release="A2"))


def _thorax(channel: str, model: str) -> AlignedPair:
    recipe = Recipe(cfc=180, start_s=0.0, end_s=0.06, candidate_sign=-1)
    return align(_test("thorax-impact", "KELPM_TI01", channel), _model("thorax-impact", model), recipe)


def _pair() -> AlignedPair:
    return _thorax("00PEND000000ACXP", "probe deceleration")


def _travel() -> AlignedPair:
    return _thorax("D0CHST0003KMDSXP", "sternum compression")


GIVENS: dict[str, Callable[[], Any]] = {
    "test": lambda: _test("knee-impact", "KELPM_KI01", "D0FEMRLE00KMFOZP"),
    "model": lambda: _model("knee-impact", "femur force"),
    "pair": _pair,
    "signals": lambda: tuple(map(_head, "xyz")),
    "time": lambda: _pair().time,
    "force": lambda: _pair().reference,
    "travel": _travel,
    "deflection": lambda: _travel().reference,
    "campaign": _campaign,
    "records": _records,
    "keys": lambda: [record.key for record in _records()],
    "recipe": lambda: Recipe(cfc=1000, start_s=0.0, end_s=0.01),
    "test_x": lambda: _head("x"),
    "test_y": lambda: _head("y"),
    "test_z": lambda: _head("z"),
    "model_x": lambda: _model("head-drop", "head x acceleration"),
    "model_y": lambda: _model("head-drop", "head y acceleration"),
    "model_z": lambda: _model("head-drop", "head z acceleration"),
}
"""By name."""

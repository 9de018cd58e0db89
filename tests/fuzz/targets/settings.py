"""Settings files: campaign, channel book, tuning, waivers, corridors, windows, register, server, others."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from pydantic import BaseModel

from correlate import load_campaign
from correlate.criteria import window_book
from correlate.laboratory.circumstances import load_circumstances
from correlate.laboratory.register import read_register
from correlate.reference.expectations import load_expectations
from correlate.reference.finding import load_waivers
from correlate.reference.package.description import load_words
from correlate.reference.published_corridor import load_published_corridor
from correlate.tuning.definition import load_tuning
from correlate.tuning.points import points_text, read_points
from dashboard.server_settings import load_settings
from tests.dashboard.project import CAMPAIGN
from tests.evaluation.book.conftest import HEAD
from tests.evaluation.book.test_expansion import DUMMY, LONG, SHORT
from tests.fuzz.lines import ROOT
from tests.fuzz.rounds import Target
from tests.fuzz.watching import Wrong
from tests.laboratory.books import REGISTER, WINDOWS
from tests.reference.package.media_files import WORDS
from tests.reference.test_expectations import FILE
from tests.reference.test_published_corridor import CSV, TOML
from tests.reference.test_waivers import LINE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from tests.fuzz.mutations import Case

_BASE = ("correlate/toml.py", "correlate/files.py")
_DEMO = ROOT / "demo_pairs"


def _seeds(*cases: dict[str, str]) -> Callable[[Path], list[Case]]:
    encoded = [{name: text.encode() for name, text in case.items()} for case in cases]
    return lambda _: encoded


def _demo(name: str) -> str:
    return (_DEMO / name).read_text(encoding="utf-8")


def finite(value: Any, at: str = "") -> None:
    """Raise `Wrong` where a setting holds a number that is none, or a text with control characters."""
    if isinstance(value, float) and not math.isfinite(value):
        raise Wrong(f"{at} is {value}")
    if isinstance(value, str) and any(ord(sign) < 32 and sign not in "\t\n\r" for sign in value):
        raise Wrong(f"{at} holds control characters")
    for name, entry in _parts(value):
        finite(entry, f"{at}{name}")


def _parts(value: Any) -> list[tuple[str, Any]]:
    """Return what a value consists of, by its name."""
    if isinstance(value, BaseModel):
        return [(f".{name}", getattr(value, name)) for name in type(value).model_fields]
    if is_dataclass(value) and not isinstance(value, type):
        return [(f".{one.name}", getattr(value, one.name)) for one in fields(value)]
    if isinstance(value, dict):
        return [(f".{key}", entry) for key, entry in value.items()]
    return [("", entry) for entry in value] if isinstance(value, list | tuple | set | frozenset) else []


def _read(name: str, reader: Callable[[Path], Any], files: Path) -> None:
    finite(reader(files / name), name)


# Campaigns --------------------------------------------------------------------------------------------


def _book(text: str) -> str:
    top, _, rest = text.partition("#\n")
    return f"{top}{HEAD}{rest}"


_CAMPAIGNS = _seeds(
    {"campaign.toml": CAMPAIGN},
    {"campaign.toml": _demo("campaign.toml")},
    {"campaign.toml": _book(LONG)},
    {"campaign.toml": _book(SHORT), "books/dummy.toml": DUMMY},
)


def _read_campaign(files: Path) -> None:
    campaign = load_campaign(files)
    for name in ("title", "scoring", "settings", "limits", "regions", "load_cases", "releases", "layouts"):
        finite(getattr(campaign, name), name)


# Tuning -----------------------------------------------------------------------------------------------

_TUNING_FIXED = frozenset({"tuning.deck", "campaign.toml"})
_DESIGN = "point,round,a,b\nP0,0,1,10\nP1,0,1.5,20\nP2,1,0.5,15.5\n"
_PARAMETERS = """\
[[parameter]]
name = "a"
unit = "MPa"
lower = 0.5
upper = 2
scale = "log"
start = 1

[[parameter]]
name = "b"
unit = "1"
lower = 1
upper = 100
scale = "linear"
start = 10
"""


def _short_tuning() -> str:
    return _demo("tuning.toml").partition("[[parameter]]")[0] + _PARAMETERS


def _tuning_seeds(_: Path) -> list[Case]:
    fixed = {name: _demo(name).encode() for name in _TUNING_FIXED}
    return [fixed | {"tuning.toml": text.encode()} for text in (_demo("tuning.toml"), _short_tuning())]


def _read_tuning(files: Path) -> None:
    tuning = load_tuning(files)
    finite(tuning.space.parameters, "parameter")
    finite(tuning.goal, "goal")
    start = np.array(tuning.space.start_point)
    if not np.allclose(tuning.space.from_unit(tuning.space.to_unit(start[None]))[0], start):
        raise Wrong("the start point differs after conversion to the unit cube")


def _design_seeds(folder: Path) -> list[Case]:
    return [case | {"design.csv": _DESIGN.encode()} for case in _tuning_seeds(folder)[1:]]


def _read_design(files: Path) -> None:
    tuning = load_tuning(files)
    points = read_points(tuning.design_file, tuning.space)
    again = files.parent / "out" / "design.csv"
    again.write_text(points_text(tuning.space, points), encoding="utf-8")
    if read_points(again, tuning.space) != points:
        raise Wrong("the design points differ after writing and reading")


# Reference data, laboratory, server --------------------------------------------------------------------


def _read_corridor(files: Path) -> None:
    path = next(path for path in sorted(files.iterdir()) if path.name.startswith("band"))
    finite(load_published_corridor(path), "corridor")


def _server_seeds(_: Path) -> list[Case]:
    text = """\
project = "kelp"
store = "ratings.sqlite"

[public]
url = "https://ratings.example"
proxies = 1

[listen]
address = "127.0.0.1"
port = 8050
threads = 8

[accounts]
database = "accounts.sqlite"
session_hours = 12
secret_key_file = "secret.key"

[uploads]
largest_mb = 100
most_files = 50

[jobs]
folder = "jobs"
at_once = 2
processes = 1
"""
    second = """\
project = "kelp"
store = "postgresql://correlate@db.example/ratings"
[public]
url = "http://localhost:8050"
[accounts]
secret_key_file = "secret.key"
"""
    fixed = {"kelp/campaign.toml": CAMPAIGN.encode(), "secret.key": b"x" * 64 + b"\n"}
    return [fixed | {"server.toml": one.encode()} for one in (text, second)]


def _read_server(files: Path) -> None:
    (files / "secret.key").chmod(0o600)
    settings = load_settings(files / "server.toml")
    finite(vars(settings), "server")
    settings.secret_key()


def _toml(
    name: str,
    file: str,
    reader: Callable[[Path], Any],
    texts: Sequence[str],
    traced: Sequence[str],
    *,
    inputs: int = 80,
) -> Target:
    return Target(
        name=name,
        seeds=_seeds(*({file: text} for text in texts)),
        run=partial(_read, file, reader),
        traced=(*traced, *_BASE),
        inputs=inputs,
    )


_WAIVERS = f"waivers = [\n  {LINE},\n  {LINE.replace('ax', 'az')},\n]\n"
_CONDITIONS = """\
operator = "operator 2"
date = 2026-03-04
temperature_degC = 21.5
soak_hours = 4
[[sensor]]
channel = "??PELV??????ACZ?"
serial = "AC-9"
"""

TARGETS = (
    Target(
        name="campaign",
        seeds=_CAMPAIGNS,
        run=_read_campaign,
        traced=("correlate/evaluation", *_BASE),
        inputs=30,
    ),
    Target(
        name="tuning",
        seeds=_tuning_seeds,
        run=_read_tuning,
        traced=("correlate/tuning/definition.py", "correlate/tuning/parameters.py", *_BASE),
        inputs=120,
        fixed=_TUNING_FIXED,
    ),
    Target(
        name="design-points",
        seeds=_design_seeds,
        run=_read_design,
        traced=("correlate/tuning/points.py",),
        inputs=80,
        fixed=_TUNING_FIXED | {"tuning.toml"},
    ),
    _toml("waivers", "waivers.toml", load_waivers, [_WAIVERS], ["correlate/reference/finding.py"]),
    _toml("expectations", "expect.toml", load_expectations, [FILE], ["correlate/reference/expectations.py"]),
    Target(
        name="published-corridor",
        seeds=_seeds({"band.csv": CSV}, {"band.toml": TOML}),
        run=_read_corridor,
        traced=("correlate/reference/published_corridor.py", *_BASE),
        inputs=120,
    ),
    _toml(
        "windows",
        "windows.toml",
        lambda path: window_book([path]),
        [WINDOWS],
        ["correlate/criteria/windows.py"],
        inputs=6,
    ),
    _toml(
        "register",
        "laboratory.toml",
        read_register,
        [REGISTER],
        ["correlate/laboratory/register.py"],
        inputs=120,
    ),
    _toml(
        "circumstances",
        "c.toml",
        load_circumstances,
        [_CONDITIONS],
        ["correlate/laboratory/circumstances.py"],
        inputs=60,
    ),
    _toml("package-words", "words.toml", load_words, [WORDS], ["correlate/reference/package"], inputs=60),
    Target(
        name="server",
        seeds=_server_seeds,
        run=_read_server,
        traced=("dashboard/server_settings.py", *_BASE),
        inputs=120,
        fixed=frozenset({"kelp/campaign.toml", "secret.key"}),
    ),
)
__all__ = ["TARGETS", "finite"]

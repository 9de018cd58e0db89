"""Requests that no page of ours sends: wrong in every place that a callback has, and absurd addresses.

The tests send a part of them; ``python -m tests.dashboard.pages.wrong_calls PROJECT`` sends them all (about
two minutes for a small project) and prints how often each status was answered.
"""

from __future__ import annotations

import copy
import json
import math
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from dashboard.access.account import server_callbacks
from dashboard.app import create_app
from tests.dashboard.served import body_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from dash import Dash

VALUES: Final[tuple[Any, ...]] = (
    True, 5, -3.5, 1e308, 10**400, math.nan, -math.inf, "", "5", "x" * 200_000, "\x00", "\ud800", "\u202e",
    [], [[[]]], ["a", None, 3], [1, 2], [1e308, -1], {}, {"a": {"b": [1]}},
    {"release": "A1", "against": "", "verdict": "x"}, {"release": "\x00", "against": "", "verdict": "x"},
    {"asked": {"at": ""}, "place": 99, "base": []}, {"asked": {}, "place": 0, "base": [0.1]},
    {"told": {}, "sha256": "x"}, {"told": {"case": "drop", "start": []}, "sha256": "x"},
    {"xaxis.range": ["a", "b"]}, {"xaxis.range": [1]}, {"xaxis.range": [-1e11, 1e11]}, {"xaxis.range[0]": 5},
)  # fmt: skip
"""For any property; each is what some callback would take, or what none does."""

QUERIES: Final = (
    "?release=%00", "?release=%ED%A0%80", "?release[]=A1", "?release=A1&release=A2", "?%00=1", "release=A1",
    "?release=" + "x" * 10_000, "?" + "&".join(f"over=A{number}" for number in range(500)),
    "?release=A9&against=A9&case=x&channel=%2e%2e", "?from=nan&to=1e999", "?from=-5&to=1e308", "?from=5&to=5",
    "?from=-1e9&to=1e9", "?cfc=99999999999999999999", "?cfc=-1", "?cfc=0", "?shift=1e300&scale=-1e300",
    "?shift=1e11", "?scale=1e200", "?offset=1e300", "?left=5&right=1e400", "?left=-1e300&right=1e300",
    "?show=zz", "?over=A2&over=zz",
    "?case=impact&channel=D0CHST0003KMDSXP&repeat=zz", "?width=1e99", "?width=nan", "?width=-1",
    "?windows=../x", "?across=x&shown=D01&shown=zz", "?list=lost&list-region=x", "?view=zz&sort=zz&state=zz",
    "?day=9999-12-31", "?day=0000-00-00", "?day=1-1-1", "?quantity=x&dummy=y", "?all=x",
    "?ticked=99999999999999999999999,-1,x", "?at=a:1e400,b:nan", "?along=x&outcome=y&moves=z",
    "?package=../..", "?package=a/b", "?package=.", "?job=../x", "?job=" + "9" * 200,
)  # fmt: skip
"""For any page."""

RAW: Final = (
    b"", b"no", b"[]", b"5", b"null", b'"x"', b"{}", b"\xff\xfe", b'{"output": 5}', b'{"output": {}}',
    b'{"output": "no.such"}', b"[" * 100_000, b'{"output": ' + b"[" * 100_000, b'{"a": ' + b"9" * 5000 + b"}",
)  # fmt: skip
"""For the callbacks as a whole."""

_PATHS: Final = {"decision": "/", "frame": "/"}
_ODD_ID: Final = {"type": "no-such", "place": [[]]}


def plain_call(app: Dash, key: str) -> dict[str, Any]:
    """Return what the page of a callback could send when a button is pressed on it."""
    body = body_of(app, key)
    for one in _parts(body):
        if isinstance(one, dict):
            name, _, _ = one["id"].rpartition("-address")
            usual = {"pathname": _PATHS.get(name, f"/{name}"), "n_clicks": 1, "search": ""}
            one["value"] = usual.get(one["property"])
    first = body["inputs"][0]
    if isinstance(first, dict):
        body["changedPropIds"] = [f"{first['id']}.{first['property']}"]
    return body


def wrong_values(app: Dash, key: str) -> Iterator[dict[str, Any]]:
    """Yield the call with every value in every place."""
    plain = plain_call(app, key)
    for part in ("inputs", "state"):
        for place, one in enumerate(plain[part]):
            if isinstance(one, list):
                yield from _wrong_groups(app, key, plain, part, place)
                continue
            for wrong in VALUES:
                body = copy.deepcopy(plain)
                body[part][place]["value"] = wrong
                if part == "inputs":
                    body["changedPropIds"] = [f"{one['id']}.{one['property']}"]
                yield body


def absurd_addresses(app: Dash, key: str) -> Iterator[dict[str, Any]]:
    """Yield the call with every absurd address where it takes one."""
    plain = plain_call(app, key)
    for part in ("inputs", "state"):
        for place, one in enumerate(plain[part]):
            if isinstance(one, dict) and (one["property"] == "search" or one["id"] == "pair-shown"):
                for query in QUERIES:
                    body = copy.deepcopy(plain)
                    body[part][place]["value"] = query
                    yield body


def _wrong_groups(
    app: Dash, key: str, plain: dict[str, Any], part: str, place: int
) -> Iterator[dict[str, Any]]:
    """Yield calls with members of a group that the page does not have."""
    known = app.callback_map[key][part][place]
    pattern = {
        name: "x" if isinstance(told, list) else told for name, told in json.loads(known["id"]).items()
    }
    for one_id in (pattern, pattern | {"place": 99}, {**pattern, "type": "y"}, _ODD_ID, "text", 5, None):
        values: list[Any] = [1, 0.5, None, *VALUES]
        for value in values:
            body = copy.deepcopy(plain)
            member = {"id": one_id, "property": known["property"], "value": value}
            body[part][place] = [member]
            shown = json.dumps(one_id, sort_keys=True, separators=(",", ":"))
            body["changedPropIds"] = [f"{shown}.{known['property']}"] if part == "inputs" else []
            yield body


_PARTS: Final[tuple[Any, ...]] = (
    None, 5, "x", [], [1], [[]], {}, [{"id": _ODD_ID, "property": "value"}], ["a"], ["{.x"],
)  # fmt: skip
"""In place of a part of a call."""


def wrong_shapes(app: Dash, key: str) -> Iterator[dict[str, Any]]:
    """Yield the call without parts, with parts of other types, and with parts of another callback."""
    plain = plain_call(app, key)
    for part in ("output", "inputs", "state", "outputs", "changedPropIds"):
        for value in _PARTS:
            yield {**plain, part: value}
        yield {name: value for name, value in plain.items() if name != part}
    for part in ("inputs", "state"):
        for place in range(len(plain[part])):
            for wrong in ({"id": "other"}, {"property": "other"}, {"id": None}, {"id": _ODD_ID}):
                body = copy.deepcopy(plain)
                one = body[part][place]
                body[part][place] = [wrong] if isinstance(one, list) else one | wrong
                yield body


def statuses(app: Dash, bodies: Iterator[dict[str, Any]]) -> Counter[int]:
    """Send calls to an application of one machine, and count the statuses of the answers."""
    client = app.server.test_client()
    app.server.config["PROPAGATE_EXCEPTIONS"] = False
    return Counter(
        client.post("/_dash-update-component", json=body, base_url="http://127.0.0.1").status_code
        for body in bodies
    )


def main() -> None:
    """Send everything to the callbacks of a project."""
    app = create_app(Path(sys.argv[1]).resolve())
    total: Counter[int] = Counter()
    for key in server_callbacks(app):
        for wrong in (wrong_values, wrong_shapes, absurd_addresses):
            found = statuses(app, wrong(app, key))
            if any(status >= 500 for status in found):
                sys.stdout.write(f"{key}: {dict(found)}\n")
            total += found
    sys.stdout.write(f"{dict(total)}\n")


def _parts(body: dict[str, Any]) -> list[Any]:
    return [*body["inputs"], *body["state"]]


if __name__ == "__main__":
    main()

"""What callbacks may receive: every request is compared with what its callback declares before it runs.

The components of the pages say which values a property can have, so a callback receives nothing that its
page could not have sent: anything else is answered with status 400 and one sentence. What a store of the page
holds was written by our own callbacks, and its shape is declared here, because a browser can send any.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Annotated, Any, Final
from urllib.parse import parse_qsl

from flask import abort, request
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from dashboard import ids
from dashboard.access.account import server_callbacks
from dashboard.access.gate import CALLBACKS, call_body
from dashboard.components import pair_ids

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from dash import Dash
    from dash.development.base_component import Component

LONGEST_NAME: Final = 2_000
"""Characters of an entry of a menu or of a field of one line."""
LONGEST_ADDRESS: Final = 8_000
"""Characters of the query of a URL, which proxies limit to about as many."""
LONGEST_TEXT: Final = 100_000
"""Characters of a field of several lines."""
MOST_ENTRIES: Final = 10_000
"""Entries of a list."""
LARGEST: Final = 1e12
"""Of a number, in the unit of its field."""

# Control characters but tab and line ends, halves of characters, and what reverses the order of writing.
_UNSEEN: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069]")


def _readable(text: str) -> str:
    if found := _UNSEEN.search(text):
        raise ValueError(f"it holds the control character U+{ord(found[0]):04X}")
    return text


def _query(text: str) -> str:
    if text and not text.startswith("?"):
        raise ValueError("it is not the query of an address")
    for key, value in parse_qsl(text.removeprefix("?")):
        for part in (key, value):
            _readable(part)
            if len(part) > LONGEST_NAME:
                raise ValueError(f"an entry has more than {LONGEST_NAME} characters")
    return text


_Name = Annotated[str, Field(max_length=LONGEST_NAME), AfterValidator(_readable)]
_Text = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_readable)]
_Query = Annotated[str, Field(max_length=LONGEST_ADDRESS), AfterValidator(_readable), AfterValidator(_query)]
_Whole = Annotated[int, Field(ge=-LARGEST, le=LARGEST)]
_Real = Annotated[float, Field(ge=-LARGEST, le=LARGEST, allow_inf_nan=False)]
_Number = _Whole | _Real
_Count = Annotated[int, Field(ge=0, le=LARGEST)]
_Names = Annotated[list[_Name], Field(max_length=MOST_ENTRIES)]
_Numbers = Annotated[list[_Number], Field(max_length=MOST_ENTRIES)]
_TwoNumbers = Annotated[list[_Number], Field(min_length=2, max_length=2)]
_Texts = dict[_Name, _Text]
# Files as the browser encodes them: their content is checked where they are stored.
_Files = Annotated[list[str], Field(max_length=MOST_ENTRIES)] | str


class _Stored(BaseModel):
    """What a callback wrote into a store of the page."""

    model_config = ConfigDict(strict=True, extra="forbid")


class _Board(_Stored):
    """Release, comparison and verdict that the decision sheet shows."""

    release: _Name
    against: _Name
    verdict: _Text


class _Curves(_Stored):
    """What the tuning page shows of the emulated curves."""

    asked: _Texts
    menus: dict[_Name, _Text | None] = {}
    place: _Count = 0
    base: _Numbers = []


class _Told(_Stored):
    """The fields of the use of a package."""

    case: _Name | None
    source: _Name | None
    name: _Name | None
    title: _Name | None
    start: _Number | _Name | None
    end: _Number | _Name | None


class _Use(_Stored):
    """The use of a package that was shown before it is written."""

    told: _Told
    sha256: _Name


_Zoom = dict[_Name, _Number | bool | _TwoNumbers | None]

_BY_COMPONENT: Final[dict[tuple[str, str], Any]] = {
    ("Location", "pathname"): Annotated[str, Field(max_length=LONGEST_ADDRESS), AfterValidator(_readable)],
    ("Location", "search"): _Query,
    ("Select", "value"): _Name,
    ("MultiSelect", "value"): _Names,
    ("CheckboxGroup", "value"): _Names,
    ("SegmentedControl", "value"): _Name,
    ("TextInput", "value"): _Name,
    ("Textarea", "value"): _Text,
    # A field that is being typed into holds a text.
    ("NumberInput", "value"): _Number | _Name,
    ("Slider", "value"): _Number,
    ("Slider", "drag_value"): _Number,
    ("RangeSlider", "value"): _TwoNumbers,
    ("RangeSlider", "drag_value"): _TwoNumbers,
    ("Interval", "n_intervals"): _Count,
    ("Upload", "contents"): _Files,
    ("Upload", "filename"): _Files,
}
"""What a property of a component may hold beside nothing."""

_BY_KIND: Final[dict[str, str]] = {
    ids.TUNING_CURVE_SLIDER: "Slider",
    ids.DATA_ACCEPT: "Button",
    ids.DATA_PARTNER: "Select",
    ids.DATA_TURNED: "Select",
}
"""Components of the kinds of ids that pages make as they need them."""

_BY_STORE: Final[dict[str, Any]] = {
    ids.THEME: _Name,
    ids.DECISION_SHOWN: _Board,
    ids.DECISION_WRITTEN: _Name,
    ids.DATA_USE_PLANNED: _Use,
    ids.TUNING_FIT_ASKED: _Texts,
    ids.TUNING_CURVE_SHOWN: _Curves,
    ids.TUNING_CURVE_SETTLED: _Numbers,
    pair_ids.SHOWN: _Query,
    pair_ids.ZOOM: _Zoom,
}
"""What the stores of the pages hold; those of the job panels hold a name."""

_STRICT: Final = ConfigDict(strict=True)
_OWN_CONFIG: Final = (_Board, _Curves, _Use)

_CLICKS: Final = "n_clicks"
_OF_JOBS: Final = re.compile(r"[a-z]+-job-changed")


def check_received(app: Dash) -> None:
    """Let callbacks run only on what their page can send.

    Raises
    ------
    RuntimeError
        A callback listens to something of which it is not known what it may hold.
    """
    shapes = _Shapes(app)

    def check() -> None:
        if request.endpoint == CALLBACKS:
            try:
                shapes.check(call_body())
            except ValueError as error:
                abort(400, f"The request is not valid: {error}. Reload the page.")

    app.server.before_request(check)


class _Shapes:
    """What each callback of an application may receive."""

    def __init__(self, app: Dash) -> None:
        self._callbacks = app.callback_map
        components = dict(_components(app.validation_layout))
        self._adapters: dict[tuple[str, str], TypeAdapter[Any]] = {}
        for key in server_callbacks(app):
            entry = self._callbacks[key]
            for one in (*entry["inputs"], *entry["state"]):
                place = one["id"], one["property"]
                shape = _shape_of(*place, components)
                config = None if shape in _OWN_CONFIG else _STRICT
                self._adapters[place] = TypeAdapter(shape, config=config)

    def check(self, body: Any) -> None:
        """Refuse, with a `ValueError`, what a callback cannot have been sent by its page."""
        if not isinstance(body, dict):
            raise ValueError("it is not an object")  # noqa: TRY004 - one kind of refusal
        entry = self._callbacks.get(body.get("output")) if isinstance(body.get("output"), str) else None
        if entry is None or "callback" not in entry:
            raise ValueError("there is no such callback")
        sent = [
            one
            for part in ("inputs", "state")
            for one in self._values(body.get(part, []), entry[part], name=part)
        ]
        _check_outputs(body.get("outputs", []), entry["output"])
        _check_changed(body.get("changedPropIds", []), sent)

    def _values(
        self, sent: Any, declared: Sequence[Mapping[str, str]], *, name: str
    ) -> Iterator[dict[str, Any]]:
        """Yield the values that were sent, one by one, each checked."""
        if not isinstance(sent, list) or len(sent) != len(declared):
            raise ValueError(f"its {name} are not those of the callback")
        for given, known in zip(sent, declared, strict=True):
            many = _is_pattern(known["id"])
            if many and not isinstance(given, list):
                raise ValueError(f"'{_shown(known)}' is not a list")
            for one in given if many else [given]:
                if not isinstance(one, dict) or not _fits(one, known["id"], known["property"]):
                    raise ValueError(f"its {name} are not those of the callback")
                if one.get("value") is not None:
                    self._check(one["value"], known)
                yield one

    def _check(self, value: Any, known: Mapping[str, str]) -> None:
        if known["property"] == "id":
            return
        try:
            self._adapters[known["id"], known["property"]].validate_python(value)
        except ValidationError as error:
            first = error.errors()[0]
            why = str(first["msg"]).removeprefix("Value error, ")
            raise ValueError(f"the value of '{_shown(known)}' cannot be used ({why})") from None


def _components(layout: Any) -> Iterator[tuple[str, str]]:
    """Yield id and type of every component of a layout that has an id of its own."""
    tree: Iterable[Component] = layout._traverse_ids()  # noqa: SLF001 - dash offers no other way
    for part in tree:
        if isinstance(name := getattr(part, "id", None), str):
            yield name, str(part._type)  # noqa: SLF001 - set by every component


def _shape_of(name: str, prop: str, components: Mapping[str, str]) -> Any:
    """Return what an input or state may hold."""
    if prop == "id":
        return dict[str, Any]
    if prop == _CLICKS:
        return _Count
    kind = _BY_KIND.get(json.loads(name)["type"], "") if _is_pattern(name) else components.get(name, "")
    if kind == "Store" and _OF_JOBS.fullmatch(name):
        return _Name
    found = _BY_STORE.get(name) if kind == "Store" else _BY_COMPONENT.get((kind, prop))
    if found is None:
        raise RuntimeError(f"it is not declared what '{name}.{prop}' may hold")
    return found


def _is_pattern(name: str) -> bool:
    return name.startswith("{")


def _shown(known: Mapping[str, str]) -> str:
    name = known["id"]
    return f"{json.loads(name)['type'] if _is_pattern(name) else name}.{known['property']}"


def _fits(one: Mapping[str, Any], name: str, prop: str) -> bool:
    """Tell whether something that was sent is of the id and property of a callback."""
    if one.get("property") != prop:
        return False
    return _fits_pattern(one.get("id"), json.loads(name)) if _is_pattern(name) else one.get("id") == name


def _fits_pattern(given: Any, pattern: Mapping[str, Any]) -> bool:
    """Tell whether an id is one of a pattern; what the pattern leaves open is a name or a whole number."""
    if not isinstance(given, dict) or given.keys() != pattern.keys():
        return False
    return all(
        _is_place(given[key]) if isinstance(wanted, list) else given[key] == wanted
        for key, wanted in pattern.items()
    )


def _is_place(value: Any) -> bool:
    if isinstance(value, str):
        return len(value) <= LONGEST_NAME and not _UNSEEN.search(value)
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST_ENTRIES


def _check_outputs(sent: Any, declared: Any) -> None:
    """Refuse outputs that are not those of the callback."""
    listed = list(declared.values()) if isinstance(declared, dict) else declared
    several = isinstance(listed, (list, tuple))
    known: list[Any] = list(listed) if several else [listed]
    given = sent if several else [sent]
    if not isinstance(given, list) or len(given) != len(known):
        raise ValueError("its outputs are not those of the callback")
    for one, output in zip(given, known, strict=True):
        many = output.has_wildcard()
        if many != isinstance(one, list) or not all(
            _is_output(part, output) for part in (one if many else [one])
        ):
            raise ValueError("its outputs are not those of the callback")


def _is_output(sent: Any, output: Any) -> bool:
    if not isinstance(sent, dict) or not isinstance(sent.get("property"), str):
        return False
    if sent["property"].partition("@")[0] != output.component_property:
        return False
    if isinstance(output.component_id, str):
        return bool(sent.get("id") == output.component_id)
    pattern: dict[str, Any] = {
        key: value if isinstance(value, (str, int)) else [] for key, value in output.component_id.items()
    }
    return _fits_pattern(sent.get("id"), pattern)


def _check_changed(changed: Any, sent: Sequence[Mapping[str, Any]]) -> None:
    """Refuse changes of what was not sent."""
    if not isinstance(changed, list):
        raise ValueError("what changed is not a list")  # noqa: TRY004 - one kind of refusal
    present = [(one["id"], one["property"]) for one in sent]
    for one in changed:
        name, _, prop = one.rpartition(".") if isinstance(one, str) else ("", "", "")
        if (_id_of(name), prop) not in present:
            raise ValueError("something changed that is not part of it")


def _id_of(name: str) -> Any:
    """Return the id that a text stands for."""
    if not _is_pattern(name):
        return name
    try:
        return json.loads(name)
    except (ValueError, RecursionError):
        return None

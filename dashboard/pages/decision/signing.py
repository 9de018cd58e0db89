"""Signing a release off, and remarks on it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, sign_release
from dashboard import ids
from dashboard.access import THIS_MACHINE, Role, current_account, permitted, record, signs_as
from dashboard.components.data import refusal
from dashboard.state import read_only

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import StoredBoard
    from dashboard.state import Project

    Shown = Mapping[str, str] | None
    Given = Mapping[str, str | None]


def sign(project: Project, shown: Shown, given: Given) -> dict[str, Any]:
    """Sign the release on the page; refuse if its verdict is no longer the one shown."""
    try:
        stored = _as_shown(project, shown)
        role = _role(given["role"])
        who = _who(given["who"])
        scope = (given["scope"] or "").strip()
        with project.opened_store() as store:
            sign_release(
                store,
                project.campaign(),
                stored.board.release,
                role=role,
                who=who,
                date=datetime.now(UTC).astimezone().date(),
                text=given["words"] or "",
                scope=scope,
            )
    except CorrelateError as error:
        return dict.fromkeys(sign_outputs(), no_update) | {"said": refusal(error)}
    record("signed a release off", f"{stored.board.release} as {role}; scope: {scope or 'everything'}")
    words = f"Release {stored.board.release} is signed off as {role}."
    return {"said": html.P(words, className="job-end"), "written": _now(), "scope": "", "words": ""}


def remark(project: Project, shown: Shown, given: Given) -> dict[str, Any]:
    """Write a remark on the release that the page shows."""
    try:
        text = _filled(given["note"], "the remark", "write one")
        stored = _stored(project, shown)
        who = _who(given["who"])
        with project.opened_store() as store:
            store.add_note(text, campaign=project.campaign().title, who=who, release=stored.board.release)
    except CorrelateError as error:
        return dict.fromkeys(note_outputs(), no_update) | {"said": refusal(error)}
    record("wrote a remark on a release", stored.board.release)
    return {"said": "", "written": _now(), "note": ""}


def sign_outputs() -> dict[str, Output]:
    """Return what the callback of signing sets."""
    return {
        "said": Output(ids.DECISION_SIGN_SAID, "children"),
        "written": Output(ids.DECISION_WRITTEN, "data"),
        "scope": Output(ids.DECISION_SCOPE, "value"),
        "words": Output(ids.DECISION_WORDS, "value"),
    }


def note_outputs() -> dict[str, Output]:
    """Return what the callback of remarks sets."""
    return {
        "said": Output(ids.DECISION_NOTE_SAID, "children"),
        "written": Output(ids.DECISION_WRITTEN, "data", allow_duplicate=True),
        "note": Output(ids.DECISION_NOTE, "value"),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the two forms."""
    shown = State(ids.DECISION_SHOWN, "data")
    with permitted(app, Role.MANAGER):

        @app.callback(
            output=sign_outputs(),
            inputs={
                "clicks": Input(ids.DECISION_SIGN, "n_clicks"),
                "shown": shown,
                "given": {
                    "role": State(ids.DECISION_ROLE, "value"),
                    "who": State(ids.DECISION_WHO, "value"),
                    "scope": State(ids.DECISION_SCOPE, "value"),
                    "words": State(ids.DECISION_WORDS, "value"),
                },
            },
            prevent_initial_call=True,
        )
        def _sign(clicks: int | None, shown: dict[str, str] | None, given: dict[str, str | None]) -> Any:
            if not clicks:
                raise PreventUpdate
            return sign(project, shown, given)

        @app.callback(
            output=note_outputs(),
            inputs={
                "clicks": Input(ids.DECISION_NOTE_ADD, "n_clicks"),
                "shown": shown,
                "given": {
                    "who": State(ids.DECISION_NOTE_WHO, "value"),
                    "note": State(ids.DECISION_NOTE, "value"),
                },
            },
            prevent_initial_call=True,
        )
        def _remark(clicks: int | None, shown: dict[str, str] | None, given: dict[str, str | None]) -> Any:
            if not clicks:
                raise PreventUpdate
            return remark(project, shown, given)


def _stored(project: Project, shown: Shown) -> StoredBoard:
    """Return the board that the page shows, as it is now; refuse where nothing can be written."""
    if reason := project.closed("store"):
        raise read_only(reason)
    if not shown:
        raise CorrelateError("no release is shown", remedy="reload the page")
    return project.board(project.campaign(), release=shown["release"], against=shown["against"])


def _as_shown(project: Project, shown: Shown) -> StoredBoard:
    """Return the board; refuse where its verdict is not the one that the signer has read."""
    stored = _stored(project, shown)
    if shown and stored.decision.verdict != shown["verdict"]:
        raise CorrelateError(
            f"the verdict has changed since this page was opened: {stored.decision.verdict}",
            remedy="reload the page, read it again, then sign",
        )
    return stored


def _role(asked: str | None) -> str:
    """Return the role of the signer; refuse one that the account does not have."""
    allowed = signs_as(current_account())
    if asked not in allowed:
        raise CorrelateError(
            f"this account cannot sign as '{asked or ''}'", remedy=f"sign as {' or '.join(allowed)}"
        )
    return asked


def _who(typed: str | None) -> str:
    """Return the name of who signs: of the account, or typed where there are no accounts."""
    account = current_account()
    if account != THIS_MACHINE:
        return account.name
    return _filled(typed, "the name", "enter your name")


def _filled(typed: str | None, what: str, remedy: str) -> str:
    """Return what was typed into a field; refuse nothing but space."""
    text = (typed or "").strip()
    if not text:
        raise CorrelateError(f"{what} is empty", remedy=remedy)
    return text


def _now() -> str:
    """Return a value that no earlier one is equal to, so that the page is shown again."""
    return datetime.now(UTC).isoformat()

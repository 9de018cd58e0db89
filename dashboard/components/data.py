"""Parts of the data page: forms, partners, tables, jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import channel_title
from dashboard import ids, paths
from dashboard.components.controls import DECORATION, NO_NUMBER, head_row, labelled, with_label
from dashboard.components.paging import ROWS, pager, part_of
from dashboard.jobs.worker import FAULT, WORKER_ENDED
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import CorrelateError, HeldRelease, Holdings, Proposal
    from dashboard.components.paging import ListPart, Row
    from dashboard.jobs import JobState


def package_form(most_bytes: int) -> html.Div:
    """Return the field that takes a package of reference data."""
    advice = (
        "Every byte is compared with the manifests of the package, then the data check examines every "
        "test. A package without errors is stored under received/. With errors, or a signature that the "
        "trusted keys of the project do not accept, it is stored under quarantine/, where nothing uses it."
    )
    return html.Div(
        [
            html.P(advice, className="note"),
            _field(ids.DATA_PACKAGE, "Drop a package here or choose a file", most_bytes),
            html.Div(id=ids.DATA_PACKAGE_SAID, role="status"),
        ]
    )


RESULTS_WORDS: Final = "Drop a zip file here or choose one"
"""In the field of the results of a release, while no file is chosen."""


def results_form(most_bytes: int) -> html.Div:
    """Return the fields that take the results of a release."""
    advice = (
        "A zip file with one result file per load case, named as in the campaign. All files are read "
        "before the release is added; if one cannot be read, nothing is stored."
    )
    return html.Div(
        [
            html.P(advice, className="note"),
            html.Div(
                [
                    dmc.TextInput(id=ids.DATA_RESULTS_NAME, label="Release name"),
                    dmc.TextInput(id=ids.DATA_RESULTS_NOTE, label="Note"),
                ],
                className="results-words",
            ),
            _field(ids.DATA_RESULTS_FILE, RESULTS_WORDS, most_bytes),
            html.Button("Add release", id=ids.DATA_RESULTS_SEND, className="button", type="button"),
            html.Div(id=ids.DATA_RESULTS_SAID, role="status"),
        ]
    )


def field_words(words: str, most_bytes: int) -> list[Component]:
    """Return what stands in a field that takes a file."""
    limit = f"zip, up to {most_bytes / 1e6:.0f} MB"
    return [html.Span(words, className="field-words"), html.Span(limit, className="note")]


def _field(field_id: str, words: str, most_bytes: int) -> html.Div:
    # The browser itself refuses a file that is too large, before it is sent: assets/file_fields.js.
    field = dcc.Upload(
        field_words(words, most_bytes),
        id=field_id,
        accept=".zip",
        multiple=False,
        className="file-field",
        className_active="file-field is-over",
        className_reject="file-field is-refused",
        style={},
        style_active={},
        style_reject={},
    )
    refusal = html.P(className="job-failure field-refusal", role="alert", hidden=True)
    limit: dict[str, Any] = {"data-most-bytes": str(most_bytes), "data-words": words}
    return html.Div([field, refusal], **limit)


AS_PROPOSED: Final = "as proposed"
KEPT: Final = "kept"
TURNED: Final = "turned"
SIGNS: Final[tuple[str, ...]] = (AS_PROPOSED, KEPT, TURNED)
"""Options for the sign of the model."""

_SHOWN: Final = 3


def open_channel(
    load_case: str, title: str, proposals: Sequence[Proposal], *, may_write: bool
) -> html.Article:
    """Return one channel with its ranked partners."""
    test = proposals[0].test
    words = channel_title(test)
    code = html.Code(test) if words != test else None
    ranked = html.Ol([_reasons(one) for one in proposals[:_SHOWN]], className="partner-reasons")
    parts = [html.H3([words, " ", code]), html.P(title, className="note"), ranked]
    if may_write:
        parts.append(_choice(load_case, test, words, proposals))
    return html.Article(parts, className="open-channel")


def _reasons(one: Proposal) -> html.Li:
    score = html.Span(f"{one.score:.2f}", className="line-number")
    return html.Li([score, " ", html.Span(_name(one)), html.Span("; ".join(one.reasons), className="note")])


def _name(one: Proposal) -> str:
    return f"{one.model}, sign inverted" if one.sign < 0 else one.model


def _choice(load_case: str, test: str, words: str, proposals: Sequence[Proposal]) -> html.Div:
    place = {"case": load_case, "channel": test}
    return html.Div(
        [
            dmc.Select(
                id={"type": ids.DATA_PARTNER, **place},
                label="Model channel",
                data=[{"value": one.model, "label": f"{_name(one)} ({one.score:.2f})"} for one in proposals],
                value=proposals[0].model,
                allowDeselect=False,
                searchable=len(proposals) > _SHOWN,
                className="partner-menu",
            ),
            dmc.Select(
                id={"type": ids.DATA_TURNED, **place},
                label="Sign of the model",
                data=list(SIGNS),
                value=AS_PROPOSED,
                allowDeselect=False,
                className="sign-menu",
            ),
            html.Button(
                "Pair channels",
                id={"type": ids.DATA_ACCEPT, **place},
                className="button",
                type="button",
                **labelled(f"Pair {words}"),
            ),
        ],
        className="partner-choice",
    )


def releases_table(held: Holdings, search: str | None) -> list[Component]:
    """Return the releases with their results and how much of them is rated, the last one first."""
    columns = [("Release", "name"), ("Results", "count"), ("Pairs rated", "count"), ("Last rated", "moment")]
    part = data_part(held.releases[::-1], search, RELEASES_PART)
    rows = [_release(one, held) for one in part.rows]
    return [
        html.Table([head_row(columns), html.Tbody(rows)], className="lines held-lines"),
        *pager(part, "Releases", data_link(search, RELEASES_PART)),
    ]


RELEASES_PART: Final = "releases-page"
CASES_PART: Final = "cases-page"
PACKAGES_PART: Final = "packages-page"
CHANNELS_PART: Final = "channels-page"
"""Keys of the address for the parts of the long lists of the page."""


def data_part(listed: Sequence[Row], search: str | None, key: str, *, rows: int = ROWS) -> ListPart[Row]:
    """Return the part of a list of the page that its address asks for."""
    return part_of(listed, read_query(search, [key])[key], rows=rows)


def data_link(search: str | None, key: str) -> Callable[[str], str]:
    """Return the function that gives the address of a part of a list from its number."""
    return lambda number: paths.DATA + write_query({key: number}, search)


def _release(one: HeldRelease, held: Holdings) -> html.Tr:
    cases = len(held.load_cases)
    there = f"{cases - len(one.absent)} of {cases}"
    absent = (
        html.Span(f"missing: {', '.join(one.absent)}", className="note is-absent") if one.absent else None
    )
    note = html.Span(one.release.note, className="note") if one.release.note else None
    moment = f"{one.last_rated:%Y-%m-%d %H:%M} UTC" if one.last_rated else NO_NUMBER
    return html.Tr(
        [
            html.Th([html.Span(one.release.name), note, absent], scope="row", className="cell-name"),
            html.Td(with_label("Results", there), className="cell-count"),
            html.Td(with_label("Pairs rated", _rated(one.rated_pairs, held.pairs)), className="cell-count"),
            html.Td(with_label("Last rated", moment), className="cell-moment"),
        ]
    )


def _rated(pairs: int, planned: int) -> str:
    """Return how many pairs are rated; those of an older campaign file are kept, so there may be more."""
    return f"{pairs}, {planned} planned" if pairs > planned else f"{pairs} of {planned}"


_TITLES: Final[dict[str, str]] = {
    "ingest": "Importing a package",
    "results": "Importing the results of a release",
    "score": "Rating the campaign",
    "check": "Checking the tests",
    "fit": "Fitting surrogates",
    "report": "Creating the report",
}
_ENDS: Final[dict[str, str]] = {"failed": "Failed", "cancelled": "Cancelled"}
_MAY_BE_STORED: Final = "Check the lists on this page. If the upload is missing, upload the file again."


def job_parts(state: JobState) -> list[Component]:
    """Return how a job goes or how it ended."""
    title = html.H2(_TITLES.get(state.kind, state.kind))
    if not state.over:
        done = round(100 * state.progress)
        waiting = state.words or "waiting in the queue"
        words = "stopping after the current step" if state.cancelling else waiting
        bar = dmc.Progress(value=done, size="sm", className="job-bar", **labelled(f"{done} % done"))
        return [title, bar, html.P(f"{done} %, {words}", className="note")]
    if state.stage == "done":
        return [title, *_result(state)]
    ending = html.P(_ENDS[state.stage], className="job-end")
    reason = html.P(state.failure, className="job-failure") if state.failure else None
    words = _left_by(state)
    note = html.P(words, className="note") if words else None
    return [part for part in (title, ending, reason, note) if part is not None]


def _left_by(state: JobState) -> str:
    """Say what is left of a job that did not reach its end, as far as that is certain."""
    in_the_middle = state.failure in {WORKER_ENDED, FAULT}
    if state.kind in {"ingest", "results"}:
        return _MAY_BE_STORED if in_the_middle else "Nothing was stored."
    if in_the_middle or state.stage == "cancelled":
        saved = "Ratings made until then are saved." if state.kind == "score" else "No result was saved."
        return f"{saved} Start it again." if in_the_middle else saved
    return ""


def _result(state: JobState) -> list[Component]:
    kind, result = state.kind, state.result
    if kind == "ingest":
        return _package_result(result)
    if kind == "results":
        return _results(result)
    if kind == "score":
        return _scores(result)
    if kind == "fit":
        return _fit(result)
    if kind == "report":
        return _report(state.number, result)
    return [html.P("Done.", className="job-end")]


def _report(number: str, result: Mapping[str, Any]) -> list[Component]:
    words = f"The report of release {result['release']} is ready. "
    links: list[Component | str] = [
        html.A(_file_words(kind), href=f"{paths.REPORT}/{number}/{kind}", className="file-link")
        for kind in result["files"]
    ]
    problem = html.P(str(result["problem"]), className="job-failure") if result["problem"] else None
    return [part for part in (html.P([words, *links], className="job-end"), problem) if part is not None]


def _file_words(kind: str) -> str:
    """Say what a file of a report is."""
    part, _, of_appendix = kind.partition("-")
    return f"Appendix as {of_appendix.upper()}" if of_appendix else f"Save as {part.upper()}"


def _package_result(result: Mapping[str, Any]) -> list[Component]:
    name = str(result["folder"]).rpartition("/")[2]
    address = paths.DATA + write_query({"package": name}) + f"#{ids.DATA_INSPECTION}"
    folder = html.Code(str(result["folder"]))
    if result["quarantine"]:
        count, distrust = result["errors"], str(result["distrust"])
        reasons = [f"{count} {'error was' if count == 1 else 'errors were'} found"] if count else []
        reasons += [distrust] if distrust else []
        words = f"In quarantine: {'; '.join(reasons)}. The package is in "
        mark = html.Span("!", className="state-mark", **DECORATION)
        advice = (
            "Nothing uses it there. Inspect it, then release it with a reason, or repair the data and upload "
            "the package under another name."
        )
        link = dcc.Link("Inspect the package", href=address)
        said = html.P([mark, words, folder, "."], className="job-end is-attention")
    else:
        words = "Every byte is as listed and the data check found no error. The package is in "
        advice = "Nothing uses it yet."
        link = dcc.Link("Use it in the campaign", href=address)
        said = html.P([words, folder, "."], className="job-end")
    return [said, html.P(advice, className="note"), html.P(link)]


def _results(result: Mapping[str, Any]) -> list[Component]:
    read, missing = result["read"], result["missing"]
    words = f"Release {result['release']} is in the campaign: {len(read)} of {len(read) + len(missing)} "
    parts: list[Component] = [html.P(f"{words}load cases have a result.", className="job-end")]
    if missing:
        parts.append(html.P(f"No result for {', '.join(missing)}.", className="note"))
    parts.append(html.P("It is not rated yet.", className="note"))
    return parts


def _fit(result: Mapping[str, Any]) -> list[Component]:
    words = f"{result['outcomes']} outcomes were fitted, {result['proposed']} runs are proposed."
    refusal = html.P(str(result["refusal"]), className="note") if result["refusal"] else None
    return [part for part in (html.P(words, className="job-end"), refusal) if part is not None]


def _scores(result: Mapping[str, Any]) -> list[Component]:
    new, unrated = result["new"], result["unrated"]
    words = f"{new} pairs were rated; {result['reused']} were already rated."
    link = dcc.Link("Show the scoreboard", href=paths.SCOREBOARD + write_query({}).rstrip("?"))
    parts: list[Component] = [html.P(words, className="job-end"), html.P(link)]
    if unrated:
        entries = html.Ul([html.Li(str(one)) for one in unrated[:20]], className="assumptions")
        count = result.get("unrated_pairs") or len(unrated)
        parts.append(html.Details([html.Summary(f"{count} pairs cannot be rated"), entries]))
    return parts


def refusal(error: CorrelateError | str) -> html.P:
    """Return why something was not taken."""
    return html.P(str(error), className="job-failure", role="alert")

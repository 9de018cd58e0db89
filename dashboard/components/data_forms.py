"""The upload forms of the data page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import ids

if TYPE_CHECKING:
    from dash.development.base_component import Component


def package_form(most_bytes: int) -> html.Div:
    """Return the field that takes a package of reference data.

    Parameters
    ----------
    most_bytes
        That may be sent at once.

    Returns
    -------
    dash.html.Div
    """
    advice = (
        "Every byte is compared with the manifests of the package, then the data check examines every "
        "test. A package without errors is stored under received/; a package with errors is stored under "
        "quarantine/, where nothing uses it."
    )
    return html.Div(
        [
            html.P(advice, className="note"),
            _field(ids.DATA_PACKAGE, "Drop a package here or choose a file", most_bytes),
            html.Div(id=ids.DATA_PACKAGE_SAID, role="status"),
        ]
    )


def results_form(most_bytes: int) -> html.Div:
    """Return the fields that take the results of a release.

    Parameters
    ----------
    most_bytes
        That may be sent at once.

    Returns
    -------
    dash.html.Div
    """
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
            _field(ids.DATA_RESULTS_FILE, "Drop a zip file here or choose one", most_bytes),
            html.Button("Add release", id=ids.DATA_RESULTS_SEND, className="button", type="button"),
            html.Div(id=ids.DATA_RESULTS_SAID, role="status"),
        ]
    )


def field_words(words: str, most_bytes: int) -> list[Component]:
    """Return what stands in a field that takes a file.

    Parameters
    ----------
    words
        What to do, or the name of the file that was chosen.
    most_bytes
        That may be sent at once.

    Returns
    -------
    list of dash.development.base_component.Component
    """
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
    limit: dict[str, Any] = {"data-most-bytes": str(most_bytes)}
    return html.Div([field, refusal], **limit)

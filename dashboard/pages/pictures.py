"""What happens when a figure of a page is saved as a picture."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from dash import ClientsideFunction, Dash, Input, Output, State, ctx, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids
from dashboard.access import expensive, record
from dashboard.components.pictures import FORMATS

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from dashboard.components.pictures import Picture

    Draw = Callable[[str | None, date], Picture]
    """Draws what the query of a URL shows, on a day."""


def drawn(draw: Draw, search: str | None, ending: str) -> tuple[Any, str]:
    """Return the picture for the browser to save, and what is wrong where there is none."""
    try:
        picture = draw(search, datetime.now(UTC).date())
    except CorrelateError as error:
        return no_update, str(error)
    record("saved a picture", picture.about)
    return {"name": f"{picture.name}.{ending}", "svg": picture.svg}, ""


def register_picture(app: Dash, page: str, draw: Draw) -> None:
    """Connect the menu of a page; the figure is drawn again, on light paper, from the address of the page."""
    buttons = {ids.picture_part(page, ending): ending for ending in FORMATS}

    @app.callback(
        Output(ids.picture_part(page, "file"), "data"),
        Output(ids.picture_part(page, "problem"), "children"),
        *(Input(button, "n_clicks") for button in buttons),
        State(ids.address_of(page), "search"),
        prevent_initial_call=True,
    )
    @expensive
    def _save(*given: Any) -> tuple[Any, str]:
        *clicks, search = given
        ending = buttons.get(str(ctx.triggered_id))
        if ending is None or not any(clicks):
            raise PreventUpdate
        return drawn(draw, search, ending)

    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlatePicture", function_name="save"),
        Output(ids.picture_part(page, "said"), "children"),
        Input(ids.picture_part(page, "file"), "data"),
        State(ids.picture_part(page, "menu"), "id"),
    )

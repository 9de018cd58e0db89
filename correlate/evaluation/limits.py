"""The limits that a release must meet, from the campaign file."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from correlate.toml import Table

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


class Limits(Table):
    """Limits of the gate; what is left out is not checked.

    Attributes
    ----------
    least
        Least rating of a release, and of its held-out load cases.
    largest_loss
        Most that a release, a load case, a body region or a channel may lose against the release before it.
    """

    least: Share | None = None
    largest_loss: Share | None = None

    @property
    def are_set(self) -> bool:
        """Whether there is any."""
        return self.least is not None or self.largest_loss is not None

"""Keeps the ceilings of channels; the last one kept of a channel is the present one."""

from __future__ import annotations

import math
from dataclasses import asdict, fields
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import select

from correlate.campaign.ceilings import ChannelCeiling
from correlate.errors import StoreError
from correlate.store.aggregates import replace
from correlate.store.rows import storable
from correlate.store.tables import CEILINGS, bound

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy import Connection


_NAMES: Final = tuple(field.name for field in fields(ChannelCeiling))


def keep(connection: Connection, ceilings: Iterable[ChannelCeiling]) -> None:
    """Write ceilings in the place of earlier ones. See `Store.keep_ceilings`."""
    rows = {
        (one.campaign, one.load_case, one.channel): bound(CEILINGS, asdict(_checked(one))) for one in ceilings
    }
    replace(connection, CEILINGS, rows.values())


def read(connection: Connection, campaign: str) -> list[ChannelCeiling]:
    """Return the ceilings of a campaign. See `Store.ceilings`."""
    columns = [CEILINGS.c[name] for name in _NAMES]
    rows = connection.execute(select(*columns).where(CEILINGS.c.campaign == campaign))
    return list(_ceilings(tuple(map(tuple, rows))))


@lru_cache(maxsize=8)
def _ceilings(rows: tuple[tuple[Any, ...], ...]) -> tuple[ChannelCeiling, ...]:
    """Return the ceilings of rows; cached, because pages request them often."""
    found = (ChannelCeiling(**dict(zip(_NAMES, row, strict=True))) for row in rows)
    # Sorted here, because each database sorts text in its own way.
    return tuple(sorted(found, key=lambda one: (one.load_case, one.channel)))


def _checked(one: ChannelCeiling) -> ChannelCeiling:
    texts = [one.key, one.campaign, one.load_case, one.channel]
    numbers = [one.median, one.lowest, one.highest]
    ordered = 0.0 <= one.lowest <= one.median <= one.highest <= 1.0
    if not (ordered and math.isfinite(one.reference_peak) and all(storable(text) for text in texts)):
        raise StoreError(
            f"the ceiling {numbers} with a peak of {one.reference_peak} cannot be saved",
            where=ascii(f"{one.campaign} / {one.load_case} / {one.channel}").strip("'"),
            remedy="rate the repeats again; if that does not help, report the problem",
        )
    return one

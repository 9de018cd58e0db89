"""A list of pairs that an address names: the link to each, and the steps to the previous and the next one.

The address says how the list is sorted and filtered; its pairs follow from the results store.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qsl, urlencode

from dash import dcc, html

from correlate.plots import channel_title
from dashboard import ids, paths
from dashboard.components.controls import labelled
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import MatrixCell, ReleaseMatrix

SORT_WORDS: Final[dict[str, str]] = {
    "lost": "Points lost beyond scatter",
    "change": "Change, losses first",
    "rating": "Rating, lowest first",
    "name": "Region and name",
}
"""Orders of a list, in words."""

KEYS: Final[dict[str, str]] = {
    "sort": "list",
    "region": "list-region",
    "load_case": "list-case",
    "state": "list-state",
}
"""Key of the address of a pair for each part of its list."""

_SHARED: Final = ("release", "against", "over", "show")
"""Keys of the address that hold for every pair of a list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PairList:
    """How the pairs of a list are sorted and filtered; empty texts leave a filter open.

    Attributes
    ----------
    sort, region, load_case, state
        As for `ReleaseMatrix.select`.
    """

    sort: str
    region: str = ""
    load_case: str = ""
    state: str = ""

    @classmethod
    def from_search(cls, search: str | None) -> PairList | None:
        """Read the list from the address of a pair; None where it names none.

        Examples
        --------
        >>> PairList.from_search("?case=drop&list=lost&list-region=head")
        PairList(sort='lost', region='head', load_case='', state='')
        """
        given = read_query(search, KEYS.values())
        return cls(**{name: given[key] for name, key in KEYS.items()}) if given[KEYS["sort"]] else None

    @property
    def is_filtered(self) -> bool:
        """Whether a filter may leave something out."""
        return bool(self.region or self.load_case or self.state)

    def as_query(self) -> dict[str, str]:
        """Return the list as keys of the address of a pair."""
        return {key: getattr(self, name) for name, key in KEYS.items()}

    def cells(self, matrix: ReleaseMatrix, release: str) -> tuple[MatrixCell, ...]:
        """Return the pairs of a release in the order of the list."""
        return matrix.select(
            release, sort=self.sort, region=self.region, load_case=self.load_case, state=self.state
        )

    def back(self, release: str, against: str) -> str:
        """Return the address of the matrix with this list."""
        asked = {
            "release": release,
            "against": against,
            "case": self.load_case,
            "region": self.region,
            "state": self.state,
            "sort": self.sort,
        }
        return paths.MATRIX + write_query(asked)


def pair_address(cell: MatrixCell, *, against: str | None, listed: PairList) -> str:
    """Return the address of the pair behind a cell, with the list that it is opened from."""
    asked = {
        "release": cell.release,
        "against": against or "",
        "case": cell.load_case,
        "channel": cell.channel,
    }
    return paths.PAIR + write_query(asked | listed.as_query())


def step_address(search: str | None, cell: MatrixCell, listed: PairList) -> str:
    """Return the address of another pair of the list: what holds for every pair is carried along.

    What belongs to one pair is left behind: its repeat, its filter, its interval, a change of its curve.
    """
    given = parse_qsl((search or "").removeprefix("?"))
    shared = [(key, text) for key, text in given if key in _SHARED]
    place = {"case": cell.load_case, "channel": cell.channel} | listed.as_query()
    return f"{paths.PAIR}?{urlencode(shared + [(key, text) for key, text in place.items() if text])}"


def stepping_place() -> html.Nav:
    """Return where the pair page says which pair of a list it shows; empty until its callback has run."""
    return html.Nav(id=ids.STEPPING, className="stepping", **labelled("List of pairs"))


def steps(
    cells: tuple[MatrixCell, ...], place: int | None, *, search: str | None, listed: PairList, back: str
) -> list[Component]:
    """Return the position in the list, with links to the previous pair, the next one, and the matrix.

    Parameters
    ----------
    cells
        Pairs of the list.
    place
        Of the pair that is shown; None where it is not in the list.
    search
        Address of that pair.
    listed
        How the list is sorted and filtered.
    back
        Address of the matrix.
    """
    before = cells[place - 1] if place else None
    after = cells[0] if place is None and cells else next(iter(cells[(place or 0) + 1 :]), None)
    said = f"{place + 1} of {len(cells)}" if place is not None else f"Not in the list of {len(cells)}"

    def step(words: str, key: str, cell: MatrixCell | None) -> Component:
        if cell is None:
            return html.Span(f"{words} ({key})", className="step is-over")
        return dcc.Link(
            f"{words} ({key})",
            href=step_address(search, cell, listed),
            title=f"{channel_title(cell.words)}, {cell.load_case}",
            className=f"step step-{words.lower()}",
        )

    return [
        html.Span(said, className="step-place", role="status"),
        html.Span(SORT_WORDS[listed.sort], className="note"),
        step("Previous", "K", before),
        step("Next", "J", after),
        dcc.Link("Back to the matrix", href=back, className="step-back"),
    ]

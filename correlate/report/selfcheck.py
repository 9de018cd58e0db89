"""The self-check in the terminal, as JSON and as a validation record."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import printable
from correlate.plots.wording import CAUTION
from correlate.report.criteria import unit_words
from correlate.report.table import TextTable

if TYPE_CHECKING:
    from datetime import datetime

    from rich.console import Console

    from correlate.selfcheck import Checked, Comparison, Installation, SelfCheck

LIMITS: Final = (
    (
        "The record shows that on this machine the functions listed here give the listed numbers for the "
        "curves of the kit. It says nothing about other functions, about curves unlike these, or about how "
        "data were measured."
    ),
    (
        "Expected numbers come from second implementations of the same project and from published values; "
        "where a source says 'from memory', compare it with your own copy of the text. The kit is plain text "
        "for that purpose."
    ),
    (
        "The record holds for the version, the code, the machine and the libraries named here. Repeat it "
        "after every change of one of them."
    ),
    (
        "Whether this check is sufficient for the intended use, and who releases the software for use, is "
        "the decision of the laboratory (ISO/IEC 17025:2017, 7.11.2)."
    ),
)
"""What a validation record can be used for, and what not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidationRecord:
    """A self-check with the installation and the machine that it holds for.

    Attributes
    ----------
    result
        Of the self-check.
    installation
        Code, machine and libraries.
    by
        Who is responsible for it; empty if nobody was named.
    when
        Moment of the check.
    signer
        Holder and fingerprint of the key that it is signed with; empty if it is not signed.
    """

    result: SelfCheck
    installation: Installation
    by: str
    when: datetime
    signer: str = ""


def verdict(result: SelfCheck) -> str:
    """Return the outcome in one sentence."""
    wrong = len(result.disagreeing)
    if not wrong:
        return f"All {result.count} numbers agree within tolerance."
    names = ", ".join(name for name, rows in result.functions.items() if not all(one.agrees for one in rows))
    return f"{wrong} of {result.count} numbers do not agree: {names}."


def record_object(record: ValidationRecord) -> dict[str, Any]:
    """Return a validation record as plain values."""
    result = record.result
    return {
        "agrees": result.agrees,
        "verdict": verdict(result),
        "date": record.when.isoformat(timespec="seconds"),
        "by": record.by,
        "kit": {"folder": str(result.kit.folder), "sha256": result.kit.sha256},
        "checks": [
            {
                "function": one.function,
                "name": one.name,
                "source": one.source,
                "agrees": one.agrees,
                "quantities": [{**asdict(row), "agrees": row.agrees} for row in one.comparisons],
            }
            for one in result.checked
        ],
        "installation": asdict(record.installation),
        "limits": list(LIMITS),
        "caution": CAUTION,
        "version": record.installation.version,
    }


def record_json(record: ValidationRecord) -> str:
    """Return a validation record as JSON text."""
    return json.dumps(record_object(record), indent=2, ensure_ascii=False, allow_nan=False)


def record_html(record: ValidationRecord) -> str:
    """Return a validation record as a page."""
    from correlate.report.html import render_page  # noqa: PLC0415 - the terminal needs no templates

    result = record.result
    day = record.when.date().isoformat()
    return render_page(
        "selfcheck.html",
        record=record,
        day=day,
        headline=verdict(result),
        functions=[(name, [_section(one) for one in checks]) for name, checks in result.functions.items()],
        limits=LIMITS,
    )


def _section(one: Checked) -> dict[str, Any]:
    return {"name": one.name, "source": one.source, "rows": [_cells(row) for row in one.comparisons]}


def _cells(row: Comparison) -> dict[str, Any]:
    return {
        "quantity": f"{row.quantity}, {row.place}" if row.place else row.quantity,
        "expected": _number(row.expected),
        "found": row.reason if row.found is None else _number(row.found),
        "difference": "–" if row.difference is None else f"{row.difference:.2g}",
        "tolerance": f"{row.tolerance:.2g}",
        "unit": unit_words(row.unit),
        "agrees": row.agrees,
    }


def _number(value: float) -> str:
    return f"{value:.9g}"


def print_selfcheck(console: Console, record: ValidationRecord) -> None:
    """Print every function with its sources, every number, and the outcome."""
    result = record.result
    for name, checks in result.functions.items():
        console.print(name, style="bold")
        for source in dict.fromkeys(one.source for one in checks):
            console.print(f"source: {source}", style="dim")
        for one in checks:
            console.print(_table(one))
    for one, row in result.disagreeing:
        why = f": {row.reason}" if row.reason else f": expected {row.expected:.9g}, found {row.found:.9g}"
        console.print(printable(f"does not agree: {one.function}, {one.name}, {row.quantity}{why}"))
    console.print(verdict(result), style="bold")
    installation = record.installation
    console.print(
        f"correlate {installation.version}, code {installation.sha256[:16]}…, kit {result.kit.folder}"
    )
    console.print(f"{installation.processor}; {installation.system}; {installation.python}")
    console.print(CAUTION, style="dim")


def _table(one: Checked) -> TextTable:
    table = TextTable(title=one.name)
    table.add_column("quantity")
    for heading in ("expected", "found", "difference", "tolerance"):
        table.add_column(heading, justify="right")
    table.add_column("unit")
    for row in one.comparisons:
        cells = _cells(row)
        found = "nothing" if row.found is None else cells["found"]
        shown = (cells["expected"], found, cells["difference"], cells["tolerance"], cells["unit"])
        table.add_row(cells["quantity"], *shown, style="" if row.agrees else "bold red")
    return table

"""The record of one qualification test: one page."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final

from correlate.conditioning.filters import FILTER_STEP
from correlate.criteria import CAUTION
from correlate.plots.signal import signal_figure
from correlate.plots.svg_figure import figure_svg
from correlate.plots.wording import number
from correlate.report.criteria import significant, unit_words
from correlate.report.html import render_page
from correlate.report.record_file import record_bytes

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from correlate.criteria import Qualification, QuantityVerdict
    from correlate.laboratory.circumstances import Circumstances
    from correlate.signal import Signal

CURVE_HEIGHTS: Final = (300, 220, 150, 0)
"""Heights of a curve, px, the first with which everything is on one page; 0 leaves the curves out."""
_WIDTHS: Final = {1: 920, 2: 450}
"""Of a curve by the number of columns, px before it is fitted to the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QualificationRecord:
    """A qualification test with all that the result rests on.

    Attributes
    ----------
    qualification
        Values and verdicts.
    circumstances
        Dummy, conditions and instrumentation.
    when
        Moment of the evaluation.
    code_sha256
        Of the installed program.
    signer
        Holder and fingerprint of the key that it is signed with; empty if it is not signed.
    """

    qualification: Qualification
    circumstances: Circumstances
    when: datetime
    code_sha256: str
    signer: str


def headline(one: Qualification) -> str:
    """Return the outcome in one sentence."""
    total, outside, unknown = len(one.verdicts), one.count("outside"), one.count("not measurable")
    if one.passed:
        return f"All {total} quantities are inside their windows."
    parts = [f"{outside} of {total} outside"] if outside else []
    parts += [f"{unknown} of {total} not measurable"] if unknown else []
    return f"Quantities: {', '.join(parts)}."


def record_html(record: QualificationRecord, *, curve_height: int = CURVE_HEIGHTS[0]) -> str:
    """Return the record as a page."""
    one = record.qualification
    return render_page(
        "qualification_record.html",
        record=record,
        one=one,
        headline=headline(one),
        rows=[_row(verdict) for verdict in one.verdicts],
        set_up=_set_up(one),
        curves=_curves(one, curve_height),
        criteria_caution=CAUTION,
    )


def record_content(record: QualificationRecord, path: Path) -> bytes:
    """Return what the file of a record holds, a page or a print by the ending of its name.

    Notes
    -----
    A print is made with smaller curves, and at last without, until it is one page.
    """
    day = record.when.date()
    content = b""
    for height in CURVE_HEIGHTS:
        content = record_bytes(path, record_html(record, curve_height=height), day=day)
        if path.suffix.lower() != ".pdf" or _pages(content) == 1:
            break
    return content


def _pages(content: bytes) -> int:
    from pypdf import PdfReader  # noqa: PLC0415 - only a print needs it

    return len(PdfReader(BytesIO(content)).pages)


def _row(verdict: QuantityVerdict) -> dict[str, Any]:
    outcome: str = verdict.verdict
    if verdict.outside_by:
        side = "below" if verdict.outside_by < 0 else "above"
        outcome = f"outside, {significant(abs(verdict.outside_by))} {side}"
    return {
        "words": verdict.words,
        "unit": unit_words(verdict.unit),
        "window": f"{significant(verdict.low)} to {significant(verdict.high)}",
        "value": "–" if verdict.value is None else significant(verdict.value),
        "outcome": outcome,
        "reason": verdict.reason,
        "inside": verdict.verdict == "inside",
    }


def _set_up(one: Qualification) -> str:
    """Return in one line where the event is looked for, and with which mass."""
    set_up = one.window.set_up
    parts = ["Times count from first contact"]
    if set_up is not None and set_up.interval_ms is not None:
        start_ms, end_ms = set_up.interval_ms
        parts.append(f"evaluated from {number(start_ms)} to {number(end_ms)} ms")
    if set_up is not None and set_up.probe_mass_kg is not None:
        parts.append(f"probe mass {set_up.probe_mass_kg:g} kg")
    return f"{'; '.join(parts)}. The ends belong to a window."


def _filter(signal: Signal) -> str:
    classes = [step.settings["cfc"] for step in signal.history if step.name == FILTER_STEP]
    return "" if not classes else f"CFC {classes[-1]}"


def _curves(one: Qualification, height: int) -> list[dict[str, str]]:
    if not height:
        return []
    width = _WIDTHS[min(len(one.signals), 2) or 1]
    return [
        {
            "name": name,
            "filter": _filter(signal),
            "drawing": _drawing(name, signal, f"curve-{place}", width=width, height=height),
        }
        for place, (name, signal) in enumerate(one.signals.items())
    ]


def _drawing(name: str, signal: Signal, anchor: str, *, width: int, height: int) -> str:
    figure = signal_figure(signal)
    figure.update_layout(
        margin={"l": 62, "r": 12, "t": 8, "b": 40}, yaxis_title_text=f"[{unit_words(signal.unit)}]"
    )
    return figure_svg(figure, words=f"{name} over time", name=anchor, width=width, height=height)

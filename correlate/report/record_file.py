"""Records as files: a page, or the same page printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.errors import FormatError

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path


def check_record_name(path: Path) -> None:
    """Refuse a name that says neither page nor print, before the work begins.

    Parameters
    ----------
    path
        Of the record.

    Raises
    ------
    FormatError
        It ends in neither ``.html`` nor ``.pdf``, or a print is asked for and no program can print.
    """
    if path.suffix.lower() not in {".html", ".pdf"}:
        raise FormatError(
            "a record is a page or a print", where=str(path), remedy="let the name end in .html or .pdf"
        )
    if path.suffix.lower() == ".pdf":
        from correlate.report.release_document import find_browser  # noqa: PLC0415 - loads the drawing library

        find_browser()


def record_bytes(path: Path, page: str, *, day: date) -> bytes:
    """Return a page, or its print if the name ends in ``.pdf``.

    Parameters
    ----------
    path
        Of the record.
    page
        The page.
    day
        Date of the document.

    Returns
    -------
    bytes
        What the file shall hold.
    """
    if path.suffix.lower() != ".pdf":
        return page.encode()
    from correlate.report.release_document import dated, find_browser, printed  # noqa: PLC0415

    return dated(printed(page, find_browser()), day)

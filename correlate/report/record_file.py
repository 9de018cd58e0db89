"""Records as files: a page, or the same page printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.errors import FormatError
from correlate.files import write_bytes

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


def write_record(path: Path, page: str, *, day: date) -> bytes:
    """Write a page, or print it if the name ends in ``.pdf``.

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
        What was written.
    """
    content = page.encode()
    if path.suffix.lower() == ".pdf":
        from correlate.report.release_document import dated, find_browser, printed  # noqa: PLC0415

        content = dated(printed(page, find_browser()), day)
    write_bytes(path, content)
    return content

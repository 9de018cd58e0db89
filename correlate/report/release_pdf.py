"""The document of a release as PDF: the page, printed by the Chromium of the machine."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pypdf import PdfReader

from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import date

BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
"""Programs that can print, the first that is found."""
_ARGUMENTS: Final = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
    "--generate-pdf-document-outline",
    "--virtual-time-budget=20000",
)
_PATIENCE_S: Final = 120.0
_DATES: Final = re.compile(rb"/(CreationDate|ModDate) \(D:\d{14}[^)]*\)")


def find_browser() -> str:
    """Return the program that prints.

    Returns
    -------
    str
        Its path.

    Raises
    ------
    FormatError
        There is none on this machine.
    """
    for name in BROWSERS:
        found = shutil.which(name)
        if found is not None:
            return found
    raise FormatError(
        "Chromium is not installed on this machine",
        where="PDF",
        remedy="install Chromium, or print the HTML page from any browser",
    )


def release_pdf(page: Callable[[Mapping[str, int]], str], *, day: date, browser: str) -> bytes:
    """Print the document of a release.

    Parameters
    ----------
    page
        Returns the document with given page numbers in its list of contents.
    day
        Date of the document, which the file gives as its own.
    browser
        From :func:`find_browser`.

    Returns
    -------
    bytes
        A tagged PDF with bookmarks and links. The same page, day and browser give the same bytes.

    Raises
    ------
    FormatError
        The browser cannot print.

    Notes
    -----
    It is printed twice: the first print says on which page each section begins.
    """
    with tempfile.TemporaryDirectory(prefix="correlate-print-") as folder:
        first = _print(page({}), Path(folder), browser)
        final = _print(page(_page_numbers(first)), Path(folder), browser)
    return _dated(final, day)


def _print(page: str, folder: Path, browser: str) -> bytes:
    source, target = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    target.unlink(missing_ok=True)
    profile = f"--user-data-dir={folder / 'profile'}"
    command = [browser, *_ARGUMENTS, profile, f"--print-to-pdf={target}", source.as_uri()]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=_PATIENCE_S)  # noqa: S603 - no shell
        return target.read_bytes()
    except (OSError, subprocess.SubprocessError) as error:
        raise FormatError(
            f"{browser} could not print ({type(error).__name__})",
            where="PDF",
            remedy="print the HTML page from any browser",
        ) from error


def _page_numbers(pdf: bytes) -> dict[str, int]:
    """Return on which page, counted from 1, each place that is linked to lies."""
    reader = PdfReader(BytesIO(pdf))
    found: dict[str, int] = {}
    for name, place in reader.named_destinations.items():
        number = reader.get_destination_page_number(place)
        if number is not None:
            found[name.removeprefix("/")] = number + 1
    return found


def _dated(pdf: bytes, day: date) -> bytes:
    """Put the date of the document where the moment of printing stands, in as many bytes."""

    def stamp(match: re.Match[bytes]) -> bytes:
        head = b"/" + match[1] + b" (D:" + day.strftime("%Y%m%d").encode() + b"000000"
        zone = b"+00'00'"
        return head + zone.ljust(len(match[0]) - len(head) - 1)[: len(match[0]) - len(head) - 1] + b")"

    return _DATES.sub(stamp, pdf)

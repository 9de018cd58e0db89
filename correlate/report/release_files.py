"""The files of a release report: the report, and its appendix beside it."""

from __future__ import annotations

import hashlib
from pathlib import PurePath
from typing import TYPE_CHECKING

from correlate.report.release_appendix import appendix_html
from correlate.report.release_document import (
    AppendixFile,
    dated,
    printed,
    release_html,
    release_pdf,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.report.release_contents import ReleaseContents


def appendix_name(name: str) -> str:
    """Return the name of the appendix of a report.

    Examples
    --------
    >>> appendix_name("report-A3.html")
    'report-A3-appendix.html'
    """
    path = PurePath(name)
    return f"{path.stem}-appendix{path.suffix}"


def html_files(contents: ReleaseContents, name: str) -> dict[str, bytes]:
    """Write report and appendix as pages.

    Parameters
    ----------
    contents
        What they say.
    name
        Of the file of the report.

    Returns
    -------
    dict
        Content of each file by its name: the appendix first, whose hash is in the report.
    """
    appendix = appendix_html(contents).encode()
    beside = _file(name, appendix)
    return {beside.name: appendix, name: release_html(contents, appendix=beside).encode()}


def pdf_files(contents: ReleaseContents, name: str, *, browser: str) -> dict[str, bytes]:
    """Print report and appendix.

    Parameters
    ----------
    contents
        What they say.
    name
        Of the file of the report.
    browser
        Program that prints.

    Returns
    -------
    dict
        As of :func:`html_files`.
    """
    appendix = dated(printed(appendix_html(contents), browser), contents.day)
    beside = _file(name, appendix)

    def page(pages: Mapping[str, int]) -> str:
        return release_html(contents, pages=pages, appendix=beside)

    return {beside.name: appendix, name: release_pdf(page, day=contents.day, browser=browser)}


def _file(name: str, content: bytes) -> AppendixFile:
    return AppendixFile(name=appendix_name(name), sha256=hashlib.sha256(content).hexdigest())

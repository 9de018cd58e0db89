"""The caution shown with every criterion and window."""

from typing import Final

CAUTION: Final = (
    "Criteria and windows inform; they do not certify: tolerances are set by the regulation or protocol in "
    "force, none of these values is a medical judgement, and only an accredited laboratory and the "
    "responsible authority can certify a device or a vehicle."
)
"""Shown with every criterion, limit and window."""

MEMORY_WORDS: Final = "from memory"
CHECKED_WORDS: Final = "checked against the published text"


def provenance(source: str, *, checked: bool) -> str:
    """Return a source with the words that say how far it was checked.

    Parameters
    ----------
    source
        Regulation and section, or paper.
    checked
        Whether the numbers were compared with the published text.

    Returns
    -------
    str

    Examples
    --------
    >>> provenance("49 CFR 572.33", checked=False)
    '49 CFR 572.33, from memory'
    """
    return f"{source}, {CHECKED_WORDS if checked else MEMORY_WORDS}"

"""The signature of one document, such as the record of a qualification test, in a file beside it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.display import short_repr
from correlate.errors import FormatError
from correlate.files import opened, write_text
from correlate.reference.package.signature import checked_signature, signature_text
from correlate.reference.package.trust import NOBODY, SigningChain, Trust

if TYPE_CHECKING:
    from datetime import datetime

    from correlate.reference.package.signature import Signer

ENDING: Final = ".signature.json"
"""Ending that is added to the name of a document for its signature."""
DOCUMENTS: Final = frozenset({".html", ".pdf"})
"""Endings of documents that are signed in this way."""
SIGNS: Final = "document"
"""What the signature states as signed: the content, whatever the name of the file."""
_MOST_SIGNATURE_BYTES: Final = 20_000


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class VerifiedDocument:
    """A document that is unchanged since it was signed, or is not signed.

    Attributes
    ----------
    path
        As the user named it.
    size
        In bytes.
    chain
        Who signed, and whether the key is trusted.
    """

    path: str
    size: int
    chain: SigningChain

    @property
    def words(self) -> str:
        """What was found, for people."""
        if self.chain.signature is None:
            return f"{self.path}: {self.size} bytes\nnot signed: there is no {self.path}{ENDING}"
        return f"{self.path}: {self.size} bytes, as signed\n{self.chain.words}"


def signature_path(path: Path) -> Path:
    """Return where the signature of a document is.

    Examples
    --------
    >>> from pathlib import Path
    >>> signature_path(Path("record.pdf")).name
    'record.pdf.signature.json'
    """
    return path.with_name(path.name + ENDING)


def sign_document(path: Path, content: bytes, signer: Signer, *, moment: datetime) -> Path:
    """Write the signature of a document beside it.

    Parameters
    ----------
    path
        Of the document.
    content
        Of the document.
    signer
        Both halves of the key.
    moment
        Of the signature.

    Returns
    -------
    pathlib.Path
        Of the signature.

    Raises
    ------
    SettingsError
        The key is not valid on that day.
    FormatError
        The file cannot be written.
    """
    target = signature_path(path)
    write_text(target, signature_text(signer, content, signs=SIGNS, moment=moment))
    return target


def is_document(path: Path) -> bool:
    """Say whether a path is a document, not a package."""
    return path.suffix.lower() in DOCUMENTS and path.is_file()


def verify_document(path: str | Path, *, trust: Trust = NOBODY) -> VerifiedDocument:
    """Compare a document with the signature beside it.

    Parameters
    ----------
    path
        Of the document.
    trust
        Whose signatures are accepted; by default documents without one and sound signatures of anyone are.

    Returns
    -------
    VerifiedDocument

    Raises
    ------
    FormatError
        The document was changed after it was signed, or the signature is damaged.
    UntrustedError
        It is unchanged, but its signature is missing or not accepted, and one is required.
    """
    path = Path(path)
    with opened(path) as stream:
        content = stream.read()
    beside = signature_path(path)
    signature = None
    if beside.exists():
        with opened(beside) as stream:
            raw = stream.read(_MOST_SIGNATURE_BYTES)
        try:
            signature = checked_signature(raw, content, signs=SIGNS, where=str(beside))
        except FormatError as error:
            raise FormatError(
                f"{error.what}: the document or its signature was changed",
                where=str(path),
                remedy="do not use this document; ask for it and its signature again",
            ) from error
    chain = trust.chain(signature)
    chain.refuse(str(path))
    return VerifiedDocument(path=str(path), size=len(content), chain=chain)

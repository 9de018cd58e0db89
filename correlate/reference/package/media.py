"""Photos and films of a package: listed with hash and time zero, of types that a browser shows safely."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Annotated, Any, Final, Self

from pydantic import Field, ValidationError, model_validator

from correlate.errors import FormatError
from correlate.files import first_bytes, opened
from correlate.plain_files import json_content
from correlate.reference.package.names import check_names
from correlate.toml import Table

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

MEDIA_FOLDER: Final = "data/media"
"""Folder of a package for photos and films."""
CONTENT_TYPES: Final = {
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".png": "image/png",
    ".mp4": "video/mp4",
    ".webm": "video/webm",
}
"""Accepted endings. SVG drawings are not accepted, because they can contain scripts."""
LARGEST_PHOTO: Final = 2**25
LARGEST_FILM: Final = 2**33
"""Most bytes of a photo and of a film; chosen here."""
DESCRIPTION: Final = "data/description.json"
_LARGEST_DESCRIPTION: Final = 2**26
_STARTS: Final = {
    "image/jpeg": (0, b"\xff\xd8\xff"),
    "image/png": (0, b"\x89PNG\r\n\x1a\n"),
    "video/mp4": (4, b"ftyp"),
    "video/webm": (0, b"\x1a\x45\xdf\xa3"),
}
"""Position of the bytes that identify a type (JFIF, PNG, ISO 14496-12, RFC 8794; from memory)."""
_BLOCK: Final = 2**20


class MediaWords(Table):
    """A photo or a film, as the sender describes it.

    Attributes
    ----------
    file
        Path of a JPEG, PNG, MP4 or WebM file, relative to this file.
    test
        Test that it shows; left out where it belongs to all tests of the package.
    shows
        What the photo or film shows.
    view
        Camera and direction, such as "left, at right angles to the plane of motion".
    frame_rate_per_s
        Frame rate of the recording of a film, in frames per second.
    time_zero_frame, time_zero_s
        Where a film is at time zero of the test: number of the frame, the first being 0, or seconds of the
        film as it is played. One of the two.
    """

    file: Annotated[str, Field(min_length=1)]
    test: str = ""
    shows: Annotated[str, Field(min_length=1)]
    view: str = "not given"
    frame_rate_per_s: Annotated[float, Field(gt=0, le=1e8, allow_inf_nan=False)] | None = None
    time_zero_frame: Annotated[int, Field(ge=0)] | None = None
    time_zero_s: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = None

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        if not self.content_type:
            known = ", ".join(CONTENT_TYPES)
            raise ValueError(f"'{self.file}' is not of an accepted type; convert it to one of {known}")
        zeros = [self.time_zero_frame, self.time_zero_s]
        if not self.is_film and any(value is not None for value in [*zeros, self.frame_rate_per_s]):
            raise ValueError(f"the photo '{self.file}' has no frames; remove frame rate and time zero")
        if self.is_film and (self.frame_rate_per_s is None or zeros.count(None) != 1):
            raise ValueError(
                f"the film '{self.file}' needs frame_rate_per_s and either time_zero_frame or time_zero_s"
            )
        return self

    @property
    def content_type(self) -> str:
        """Type of the content by the ending of the name; empty for one that is not accepted."""
        return CONTENT_TYPES.get(PurePosixPath(self.file).suffix.lower(), "")

    @property
    def is_film(self) -> bool:
        """Whether it is a film."""
        return self.content_type.startswith("video/")

    @property
    def time_zero_words(self) -> str:
        """Where a film is at time zero, for people; empty for a photo."""
        if self.frame_rate_per_s is None:
            return ""
        rate = f"recorded at {self.frame_rate_per_s:g} frames per second"
        if self.time_zero_frame is not None:
            return f"time zero of the test is frame {self.time_zero_frame}, the first being 0; {rate}"
        return f"time zero of the test is at {self.time_zero_s:g} s of the film; {rate}"


class PackageMedia(MediaWords):
    """A photo or a film in a package.

    Attributes
    ----------
    file
        Path in the package.
    bytes
        Of the file.
    sha256
        Of its content.
    """

    bytes: int
    sha256: str


def copy_media(media: Sequence[MediaWords], tests: Collection[str], folder: Path) -> list[PackageMedia]:
    """Copy photos and films below a folder, and return them as the package lists them.

    Raises
    ------
    FormatError
        A file is missing, too large, not what its ending says, of no test of the package, or a name occurs
        twice.
    """
    listed: list[PackageMedia] = []
    for one in media:
        source = Path(one.file)
        if one.test and one.test not in tests:
            raise FormatError(
                f"the package holds no test '{one.test}'",
                where=one.file,
                remedy=f"name one of {', '.join(sorted(tests))} in the description, or leave the test out",
            )
        place = f"{one.test}/{source.name}" if one.test else source.name
        target = folder / place
        if target.exists():
            raise FormatError(
                f"two files would both be '{place}'", where=one.file, remedy="rename one of them"
            )
        target.parent.mkdir(parents=True, exist_ok=True)
        refuse_type(source, one)
        shutil.copyfile(source, target)
        digest, size = _hash_and_size(target)
        told = one.model_dump() | {"file": f"{MEDIA_FOLDER}/{place}", "bytes": size, "sha256": digest}
        listed.append(PackageMedia(**told))
    check_names([one.file for one in listed], "photos and films")
    return listed


def refuse_type(path: Path, media: MediaWords) -> None:
    """Refuse a file that is larger than any of its kind, or whose content is not what its ending says."""
    start, mark = _STARTS[media.content_type]
    if not first_bytes(path, start + len(mark))[start:] == mark:
        raise FormatError(
            f"the content is not {media.content_type}, as its ending says",
            where=str(path),
            remedy="convert or rename the file",
        )
    most = LARGEST_FILM if media.is_film else LARGEST_PHOTO
    if path.stat().st_size > most:
        raise FormatError(
            f"this is larger than {most // 2**20} MiB",
            where=str(path),
            remedy="send a shorter or smaller one",
        )


def _hash_and_size(path: Path) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    with opened(path) as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
            size += len(block)
    return digest.hexdigest(), size


def package_media(folder: str | Path) -> tuple[PackageMedia, ...]:
    """Return the photos and films that a package lists.

    Parameters
    ----------
    folder
        Of the package.

    Returns
    -------
    tuple of PackageMedia
        As its description says; empty for a package without description.

    Raises
    ------
    FormatError
        The description cannot be read, or lists something that may not be shown.
    """
    path = Path(folder) / DESCRIPTION
    if not path.is_file():
        return ()
    where = f"{Path(folder).name}/{DESCRIPTION}"
    try:
        content: dict[str, Any] = json_content(first_bytes(path, _LARGEST_DESCRIPTION))
        listed = tuple(PackageMedia.model_validate(one) for one in content.get("media", []))
    except ValidationError as error:
        first = error.errors()[0]
        what = f"{'.'.join(map(str, first['loc']))} {first['msg']}".strip()
        raise FormatError(
            f"the entry of a photo or film is not valid: {what}", where=where, remedy=_ASK
        ) from error
    except (ValueError, AttributeError, TypeError) as error:
        raise FormatError("the description cannot be read", where=where, remedy=_ASK) from error
    check_names([one.file for one in listed], where)
    for one in listed:
        if not one.file.startswith(f"{MEDIA_FOLDER}/"):
            raise FormatError(f"'{one.file}' is not in {MEDIA_FOLDER}", where=where, remedy=_ASK)
    return listed


_ASK: Final = "ask for the package again"


def check_media(folder: Path) -> None:
    """Compare the photos and films of a package with its description.

    Raises
    ------
    FormatError
        One is missing, not of its type, too large, or has another hash.
    """
    for one in package_media(folder):
        where = f"{folder.name}/{one.file}"
        path = folder / one.file
        if not path.is_file():
            raise FormatError("this file is missing, and the description lists it", where=where, remedy=_ASK)
        try:
            refuse_type(path, one)
        except FormatError as error:
            raise FormatError(error.what, where=where, remedy=_ASK) from error
        if _hash_and_size(path) != (one.sha256, one.bytes):
            raise FormatError("its hash is not that of the description", where=where, remedy=_ASK)


def media_file(folder: str | Path, file: str) -> tuple[Path, PackageMedia]:
    """Return a photo or film that a package lists, to be shown.

    Parameters
    ----------
    folder
        Of the package.
    file
        Path in the package, exactly as it is listed.

    Returns
    -------
    path : Path
        Of the file.
    media : PackageMedia
        Its entry; the type of the content is that of the entry, never guessed.

    Raises
    ------
    FormatError
        It is not listed, or is not there any more.
    """
    folder = Path(folder)
    for one in package_media(folder):
        path = folder / one.file
        if one.file == file and path.is_file() and path.resolve().is_relative_to(folder.resolve()):
            return path, one
    raise FormatError("the package lists no such photo or film", where=folder.name, remedy="reload the page")

"""The qualification windows that can be asked for: those shipped and those of a user's own files."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pydantic import ValidationError

from correlate.criteria.naming import named_entry
from correlate.criteria.window_tables import Quantity, SetUp, SignalPlan, Window, WindowsFile
from correlate.display import short_repr
from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Sequence

WINDOWS_FILE: Final = "qualification_windows.toml"
QUANTITIES_FILE: Final = "quantities.toml"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class WindowBook:
    """All windows with what is needed to measure them.

    Attributes
    ----------
    windows
        In the order of the files, the shipped ones first.
    quantities, signals
        By name.
    """

    windows: tuple[Window, ...]
    quantities: dict[str, Quantity]
    signals: dict[str, SignalPlan]

    def find(self, *, device: str, test: str) -> Window:
        """Return the window of a device and a test, each by its name or a part of it that fits one alone.

        Parameters
        ----------
        device, test
            Capitals do not matter.

        Returns
        -------
        Window

        Raises
        ------
        SettingsError
            None fits, or several; the message lists them.

        Examples
        --------
        >>> window_book().find(device="adult male", test="knee").section
        '572.35'
        """
        sizes = dict.fromkeys(window.device for window in self.windows)
        chosen = named_entry(device, {name: name for name in sizes}, word="device")
        tests = {window.test: window for window in self.windows if window.device == chosen}
        return named_entry(test, tests, word="test", of=f"'{chosen}'")


def window_book(paths: Sequence[str | Path] = ()) -> WindowBook:
    """Read the shipped windows and those of further files.

    Parameters
    ----------
    paths
        A user's own files, of the same form.

    Returns
    -------
    WindowBook

    Raises
    ------
    FormatError
        A file cannot be read, is no TOML or holds mistakes; all mistakes of a file are listed at once.
    """
    shipped = files("correlate.criteria")
    contents = [
        _parsed(shipped.joinpath(name).read_text(encoding="utf-8"), name)
        for name in (WINDOWS_FILE, QUANTITIES_FILE)
    ]
    contents += [_parsed(_text(Path(path)), str(path)) for path in paths]
    quantities = {item.name: item for content in contents for item in content.quantity}
    signals = {item.name: item for content in contents for item in content.signal}
    set_ups = [item for content in contents for item in content.set_up]
    windows = tuple(
        window
        if window.set_up is not None
        else window.model_copy(update={"set_up": next((s for s in set_ups if s.serves(window)), SetUp())})
        for content in contents
        for window in content.window
    )
    book = WindowBook(windows=windows, quantities=quantities, signals=signals)
    for path, content in zip([WINDOWS_FILE, QUANTITIES_FILE, *paths], contents, strict=True):
        _check_references(content, book, str(path))
    return book


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise FormatError(
            f"cannot be read ({error.strerror})", where=str(path), remedy="name a windows file"
        ) from error
    except UnicodeDecodeError as error:
        raise FormatError("is not UTF-8 text", where=str(path), remedy="save it as UTF-8") from error


def _parsed(text: str, where: str) -> WindowsFile:
    try:
        return WindowsFile.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise FormatError(f"is not valid TOML: {error}", where=where, remedy="correct the line") from error
    except ValidationError as error:
        listed = [_sentence(item["loc"], item["msg"]) for item in error.errors()]
        raise FormatError(
            f"{len(listed)} mistake(s): " + "; ".join(listed), where=where, remedy="correct them"
        ) from error


def _sentence(location: tuple[int | str, ...], message: str) -> str:
    parts = [str(part + 1) if isinstance(part, int) else part for part in location]
    return f"{' '.join(parts)}: {message.removeprefix('Value error, ')}"


def _check_references(content: WindowsFile, book: WindowBook, where: str) -> None:
    """Refuse a quantity without a definition and a signal that nothing makes."""
    unknown = [
        f"window '{window.test}': there is no quantity '{name}'"
        for window in content.window
        for name in window.limits
        if name not in book.quantities
    ]
    for quantity in content.quantity:
        if quantity.of and quantity.of not in book.signals:
            unknown.append(f"quantity '{quantity.name}': there is no signal '{quantity.of}'")
        if quantity.other and quantity.other not in book.quantities:
            unknown.append(f"quantity '{quantity.name}': there is no quantity '{quantity.other}'")
    if unknown:
        raise FormatError(
            f"{len(unknown)} mistake(s): " + "; ".join(unknown),
            where=where,
            remedy="define them in the file or correct the names",
        )

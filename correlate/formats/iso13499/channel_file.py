"""Headers and channel files of ISO/TS 13499."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode
from correlate.conditioning import signal_on_constant_step
from correlate.errors import FormatError, UnitError
from correlate.formats.number_text import NumberLayout, parsed_lines, plain_number
from correlate.formats.text import decoded, refuse_cut_end, shortened, text_lines
from correlate.signal import Signal, Source, Step
from correlate.units import conversion_factor, is_unit, parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import numpy as np
    from numpy.typing import NDArray


KEY_WIDTH: Final = 28
NO_VALUE: Final = "NOVALUE"
IMPLICIT: Final = "implicit"
EXPLICIT: Final = "explicit"
LIST_ENTRY: Final = "Name of channel "
LINE_END: Final = "\r\n"


@dataclass(frozen=True, slots=True)
class Header:
    """The header lines of one file.

    Attributes
    ----------
    file
        For messages.
    values
        Key to text, in the order of the file; the texts of a repeated key are joined by line breaks.
    lines
        Key to the number of the first line that has it, from 1.
    odd
        One sentence for every line that is none of a key and a text, and was ignored.
    """

    file: str
    values: dict[str, str]
    lines: dict[str, int]
    odd: list[str]

    def where(self, key: str) -> str:
        """Return file and line of a key, or the file where the key is missing."""
        return f"{self.file}, line {self.lines[key]}" if key in self.lines else self.file

    def text(self, key: str) -> str:
        """Return the text of a key; empty when it is missing or stands at ``NOVALUE``."""
        value = self.values.get(key, "")
        return "" if value.upper() == NO_VALUE else value

    def needed(self, key: str) -> str:
        """Return the text of a key that must be given."""
        value = self.text(key)
        if not value:
            raise FormatError(
                f"'{key}' is not given", where=self.where(key), remedy=f"write the line '{key} : …'"
            )
        return value

    def number(self, key: str) -> float:
        """Return the number of a key that must be given.

        Parameters
        ----------
        key
            As in the file.

        Returns
        -------
        float

        Raises
        ------
        FormatError
            It is missing or no number.
        """
        value = self.needed(key)
        number = plain_number(value)
        if number is None:
            raise FormatError(
                f"'{key}' is '{value}', which is not a number",
                where=self.where(key),
                remedy="correct the line",
            )
        return number


def parsed_header(lines: Iterable[str], *, file: str) -> Header:
    """Read header lines."""
    header = Header(file, {}, {}, [])
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        key, colon, value = line.partition(":")
        key = key.strip()
        if not colon or not key:
            header.odd.append(
                f"{file}, line {number}: '{shortened(line)}' is not of the form 'key : value' and was "
                "ignored; correct the line"
            )
            continue
        before = header.values.get(key)
        header.values[key] = value.strip() if before is None else f"{before}\n{value.strip()}"
        header.lines.setdefault(key, number)
    return header


def plain_line_ends(data: bytes) -> bytes:
    """Return the bytes of a text with line feeds, where its lines end in carriage returns alone."""
    return data if b"\n" in data else data.replace(b"\r", b"\n")


def header_text(values: Mapping[str, str], *, file: str) -> str:
    """Return header lines as text."""
    written: list[str] = []
    for key, value in values.items():
        plain = key.strip()
        if not plain or ":" in plain or not plain.isprintable():
            raise FormatError(
                f"'{shortened(key)}' cannot be a key",
                where=file,
                remedy="use one line, without a colon",
            )
        written.extend(f"{plain:<{KEY_WIDTH}}:{line.strip()}" for line in value.split("\n"))
    return "".join(line + LINE_END for line in written)


NAME: Final = "ISO/TS 13499"
_SAMPLE_LAYOUT: Final = NumberLayout(("sample",))
_COUNT: Final = "Number of samples"


@dataclass(frozen=True, slots=True, eq=False)
class RawChannel:
    """What a channel file says, before its time base is known.

    Attributes
    ----------
    code
        16 characters.
    name
        The code, told apart from others in the test that are the same.
    header
        Lines in front of the samples.
    samples
        Shape ``(n,)``, read-only.
    source
        File and hash.
    warnings
        What looks odd.
    """

    code: str
    name: str
    header: Header
    samples: NDArray[np.float64]
    source: Source
    warnings: tuple[str, ...]

    @property
    def time_channel(self) -> str:
        """Code or name of the channel that gives the times; empty for a constant step.

        The word ``explicit`` alone means the only channel of times of the test.
        """
        named = self.header.text("Reference channel")
        if named.lower() == EXPLICIT:
            return self.header.text("Reference channel name") or EXPLICIT
        return "" if named.lower() == IMPLICIT else named

    @property
    def has_no_times(self) -> bool:
        """Whether the file names neither a step nor a channel of times."""
        header = self.header
        return not (header.text("Reference channel") or header.text("Sampling interval"))

    @property
    def is_clock(self) -> bool:
        """Whether code and unit say that the samples are times."""
        unit = self.header.text("Unit")
        return ChannelCode(self.code).dimension == "TI" and is_unit(unit, "time")


def raw_channel(data: bytes, *, file: str, sha256: str, code: str, name: str) -> RawChannel:
    """Read a channel file."""
    data = plain_line_ends(data)
    end, lines = _header_end(data, file)
    header = parsed_header(text_lines(decoded(data[:end])), file=file)
    own = header.text("Channel code") or code
    if own != code:
        raise FormatError(
            f"the file calls itself '{shortened(own)}' and the list of channels calls it '{code}'",
            where=header.where("Channel code"),
            remedy="correct one of them",
        )
    if not data.endswith(b"\n"):
        refuse_cut_end(data[end:], separator=None, file=file, last_line=data.count(b"\n") + 1)
    samples = parsed_lines(data[end:], _SAMPLE_LAYOUT, file=file, first_line=lines + 1)[0]
    warnings = [*header.odd]
    if not header.text(_COUNT):
        warnings.append(f"{file}: '{_COUNT}' is not given, so nothing tells whether samples are missing")
    _check_count(header, samples.size)
    if not ChannelCode(code).is_known:
        dimension = ChannelCode(code).dimension
        warnings.append(f"{file}: '{dimension}' in the code '{code}' is not a known physical dimension")
    return RawChannel(code, name, header, samples, Source(file, sha256), tuple(warnings))


def _header_end(data: bytes, file: str) -> tuple[int, int]:
    """Return the position of the first line that is a bare number, and the number of lines before it."""
    at = 0
    number = 0
    while at < len(data):
        end = data.find(b"\n", at) + 1 or len(data)
        line = data[at:end]
        if b":" not in line and line.strip():
            text = decoded(line)
            if plain_number(text) is not None:
                break
            raise FormatError(
                f"'{shortened(text)}' is neither 'key : value' nor a number",
                where=f"{file}, line {number + 1}",
                remedy="correct the line",
            )
        at, number = end, number + 1
    return at, number


def _check_count(header: Header, count: int) -> None:
    """Refuse another number of samples than announced, and what is no time history."""
    if header.text(_COUNT) and header.number(_COUNT) != count:
        raise FormatError(
            f"{header.text(_COUNT)} samples are declared and {count} are there",
            where=header.where(_COUNT),
            remedy="copy or export the channel again",
        )
    if count < 2:
        raise FormatError(
            "there is no sample" if count == 0 else "there is one sample only",
            where=header.file,
            remedy="export the channel again",
        )


def signal_of(channel: RawChannel, times: RawChannel | None) -> Signal:
    """Return a channel with its time base."""
    unit = _unit(channel)
    settings = {
        "format": NAME,
        "file": channel.source.file,
        "channel": channel.name,
        "unit": unit,
        "rows": int(channel.samples.size),
        "time": f"channel {times.name}" if times else IMPLICIT,
    }
    history = (Step("read", settings),)
    if times is None:
        return _constant_step(channel, unit, history)
    return signal_on_constant_step(
        _times_s(times),
        channel.samples,
        unit=unit,
        channel=channel.name,
        source=channel.source,
        history=history,
    )


def _unit(channel: RawChannel) -> str:
    unit = channel.header.needed("Unit")
    try:
        parse_unit(unit)
    except UnitError as error:
        raise error.located(f"{channel.header.where('Unit')}, channel '{channel.name}'") from error
    return unit


def _times_s(times: RawChannel) -> NDArray[np.float64]:
    try:
        return times.samples * conversion_factor(_unit(times), "s")
    except UnitError as error:
        raise error if error.where else error.located(times.header.where("Unit")) from error


def _constant_step(channel: RawChannel, unit: str, history: tuple[Step, ...]) -> Signal:
    header = channel.header
    step_s = header.number("Sampling interval")
    if not (math.isfinite(step_s) and step_s > 0):
        raise FormatError(
            f"the sampling interval is {header.text('Sampling interval')} s",
            where=header.where("Sampling interval"),
            remedy="write a time above zero, in s",
        )
    start_s = header.number("Time of first sample")
    if not math.isfinite(start_s):
        raise FormatError(
            f"the time of the first sample is {header.text('Time of first sample')} s",
            where=header.where("Time of first sample"),
            remedy="write a time in s",
        )
    return Signal(
        samples=channel.samples,
        start_s=start_s,
        step_s=step_s,
        unit=unit,
        channel=channel.name,
        source=channel.source,
        history=history,
    )

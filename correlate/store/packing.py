"""Compact content of the store: JSON compressed with a preset dictionary, and hashes as bytes."""

from __future__ import annotations

import re
import zlib
from typing import Final

from correlate.limits import LARGEST_RECORD

INPUT_WORDS: Final = (
    b'"y_steps":["read (format=delimited text, file=releases/A1/, channel=, unit=, rows=2001, time_unit=ms, '
    b'separator=comma, decimal_mark=.)","read (format=ISO/TS 13499, file=laboratory/, time=implicit)",'
    b'"convert unit (from=, to=, factor=1000.0)","turn sign","remove offset (start_s=-0.04, end_s=-0.005, '
    b'offset=-0., unit=m/s^2, samples=701, change_over_peak=0.00)","filter (cfc=1000, method=two-pole '
    b'low-pass forward and backward, pad_samples=200)","resample (method=cubic spline, step_before_s=5e-05, '
    b'step_s=0.0001)"],"z":"z_steps":[{"step":"resultant","x":"","y":""'
    b'{"channel":"D0HEAD0000KMACXP","file":"laboratory//Channel/.001","history":[{"channel":"","file":"",'
    b'"format":"ISO/TS 13499","rows":5201,"step":"read","time":"implicit","unit":"m/s^2"},'
    b'{"change_over_peak":0.00,"end_s":-0.005,"offset":-0.0,"samples":701,"start_s":-0.04,'
    b'"step":"remove offset","unit":"deg"},{"method":"cubic spline","step":"resample",'
    b'"step_before_s":5e-05,"step_s":0.0001}],"sha256":"0123456789abcdef","unit":"N"}'
    b'{"channel":"","file":"releases/","history":[{"channel":"","decimal_mark":".","file":"releases/",'
    b'"format":"delimited text","rows":1501,"separator":"comma","step":"read","time_unit":"ms","unit":"kN"},'
    b'{"factor":1000.0,"from":"kN","step":"convert unit","to":"N"},{"step":"turn sign"},'
    b'{"cfc":1000,"method":"two-pole low-pass forward and backward","pad_samples":100,"step":"filter"}],'
    b'"sha256":"","unit":"kN"}'
)
"""What the JSON of inputs usually contains. Part of the format: it must never change."""

RATING_WORDS: Final = (
    b'"also":{"":{"reason":"","value":0.0},"flags":[{"figures":{"quiet_share":0.6,"suggested_end_s":0.00,'
    b'"suggested_start_s":0.0},"name":"interval mostly quiet","sentence":"Nothing happens in 68% of the '
    b'interval, which raises the rating; the test itself suggests 0.0 to 3.5 ms."}],'
    b'{"corridor":{"inner_half_width":0.,"outer_half_width":0.,"reference_peak":1.,"score":0.8},'
    b'"magnitude":{"band":10,"difference_sum":,"error":0.0,"reference_sum":,"score":0.8,'
    b'"warping_distance":1.},"overlap_samples":100,"phase":{"candidate_dead":false,"correlation":0.9,'
    b'"correlation_unshifted":0.9,"delay_samples":1,"largest_shift":20.200000000000003,"score":0.9},'
    b'"slope":{"difference_sum":,"error":0.,"reference_sum":,"score":0.}}'
)
"""What the JSON of intermediate values usually contains. Part of the format: it must never change."""

_SHA256: Final = re.compile(r"[0-9a-f]{64}")
_HASH, _TEXT = b"\x01", b"\x00"


def packed(text: str, words: bytes = b"") -> bytes:
    """Compress a text.

    Parameters
    ----------
    text
        What is saved.
    words
        What such a text usually contains; needed again for reading.

    Returns
    -------
    bytes
        A zlib stream (RFC 1950), which contains checksums of text and words.

    Examples
    --------
    >>> unpacked(packed('{"score":0.5}', RATING_WORDS), RATING_WORDS)
    '{"score":0.5}'
    """
    stream = zlib.compressobj(zdict=words) if words else zlib.compressobj()
    return stream.compress(text.encode()) + stream.flush()


def unpacked(content: bytes, words: bytes = b"") -> str:
    """Return the text that `packed` has compressed.

    Raises
    ------
    ValueError
        The content is damaged, incomplete or larger than records are.
    """
    stream = zlib.decompressobj(zdict=words) if words else zlib.decompressobj()
    try:
        text = stream.decompress(content, LARGEST_RECORD)
    except zlib.error as error:
        raise ValueError(str(error)) from error
    if stream.unconsumed_tail:
        raise ValueError(f"it is larger than {LARGEST_RECORD:,} bytes")
    if not stream.eof or stream.unused_data:
        raise ValueError("it does not end where it should")
    return text.decode()


def hash_bytes(name: str) -> bytes:
    r"""Return a SHA-256 in hexadecimal digits as bytes; any other text is kept as it is, marked as such.

    Examples
    --------
    >>> len(hash_bytes("5e" * 32)), hash_bytes("k1")
    (33, b'\x00k1')
    """
    if _SHA256.fullmatch(name):
        return _HASH + bytes.fromhex(name)
    return _TEXT + name.encode()


def hash_text(content: bytes) -> str:
    """Return the text of `hash_bytes`.

    Raises
    ------
    ValueError
        The content is not a result of `hash_bytes`.
    """
    if content[:1] == _HASH:
        return content[1:].hex()
    if content[:1] == _TEXT:
        return content[1:].decode()
    raise ValueError("it is not a hash")

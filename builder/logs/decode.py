"""Bytes of a log -> text: unpacked where it is compressed, with the encoding that was found."""

from __future__ import annotations

import codecs
import contextlib
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from builder.core.errors import Problems, Span

MAX_BYTES = 200_000_000
_HEAD = 65_536
_START = 16  # a text begins with text
_CONTROL = re.compile(r"[\x01-\x08\x0e-\x1f]")
_FEW_CONTROLS, _CONTROL_SHARE = 8, 0.002
_CODECS = {"utf-8": "utf-8", "windows-1252": "cp1252"}


# --- A compressed log -> its bytes

_GZIP = b"\x1f\x8b"
_GZIP_BITS = 31  # of zlib: the largest window, with gzip's header and checksum


def unpacked(data: bytes, where: Span, problems: Problems) -> bytes | None:
    """Return what a .csv.gz unpacks to, and any other log as it is; None after reporting why it cannot be unpacked.

    No more than `MAX_BYTES` are unpacked, whatever the file would grow to. A file that breaks off gives what is whole
    of it. Source: RFC 1952; its members follow one another.
    """
    if not data.startswith(_GZIP):
        return data
    parts: list[bytes] = []
    room, rest = MAX_BYTES, data
    while rest.startswith(_GZIP):
        packed = zlib.decompressobj(_GZIP_BITS)
        try:
            parts.append(packed.decompress(rest, room + 1))
        except zlib.error:
            message, hint = "the file is damaged and cannot be unpacked", "unpack it by hand and name the .csv"
            problems.error("bad-gzip", where, message, hint)
            return None
        room -= len(parts[-1])
        if room < 0:
            message = f"the log unpacks to more than the limit of {MAX_BYTES / 1e6:.0f} MB"
            problems.error("log-too-large", where, message, "split it, or log fewer columns")
            return None
        if not packed.eof:
            problems.warning("cut-gzip", where, "the compressed file breaks off: what is whole of it is read")
            break
        rest = packed.unused_data
    return b"".join(parts)


# --- Bytes -> text


@dataclass(frozen=True, kw_only=True)
class Decoded:
    """Text of a log without byte order mark; `tail` counts what was cut off an interrupted end."""

    text: str
    encoding: str
    tail: int = 0


def decode(data: bytes, encoding: str, where: Span, problems: Problems) -> Decoded | None:
    """Return the text, or None after reporting why there is none.

    `encoding` is `auto`, `utf-8`, `utf-16` or `windows-1252`; a byte order mark decides over it.
    """
    if len(data) > MAX_BYTES:
        size = f"{len(data) / 1e6:.0f} MB"
        problems.error("log-too-large", where, f"the log is {size}, the limit is {MAX_BYTES / 1e6:.0f} MB", "split it")
        return None
    if not data.strip(b"\x00\xff\xfe\xef\xbb\xbf \t\r\n"):
        problems.error("log-empty", where, "the log is empty", "log the run again, or take the run out of the bundle")
        return None
    codec = codec_of(data, encoding)
    try:
        decoded = _first_that_fits(data, ("utf-8", "cp1252")) if codec == "auto" else _whole(data, codec)
    except UnicodeDecodeError as problem:
        place = Span(file=where.file, line=data.count(b"\n", 0, problem.start) + 1)
        byte = data[problem.start : problem.start + 1].hex()
        message = f"byte 0x{byte} does not fit the encoding {problem.encoding}"
        hint = "set encoding: auto in the reader" if encoding != "auto" else "save the log as UTF-8"
        problems.error("wrong-encoding", place, message, hint)
        return None
    if decoded is None or _looks_binary(decoded.text):
        problems.error("binary-file", where, "this is no text file", "name the text log that the run was logged to")
        return None
    return decoded


def codec_of(data: bytes, encoding: str = "auto") -> str:
    """Return the codec: from the byte order mark, then as declared, then from where zero bytes stand, else UTF-8."""
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if encoding in _CODECS:
        return _CODECS[encoding]
    return _utf16_without_mark(data) or ("utf-16-le" if encoding == "utf-16" else "auto")


def _utf16_without_mark(data: bytes) -> str:
    head = data[:4096]
    half = max(len(head) // 2, 1)
    low, high = head[0::2].count(0) / half, head[1::2].count(0) / half
    if high > 0.7 and low < 0.05:  # noqa: PLR2004 - Latin text has a zero in nearly every second byte
        return "utf-16-le"
    return "utf-16-be" if low > 0.7 and high < 0.05 else ""  # noqa: PLR2004 - the same


def _first_that_fits(data: bytes, candidates: Sequence[str]) -> Decoded | None:
    for codec in candidates:
        with contextlib.suppress(UnicodeDecodeError):
            return _whole(data, codec)
    return None


def _whole(data: bytes, codec: str) -> Decoded:
    """Decode, less an end that stops inside a character or is filled with zeros."""
    try:
        text, used = data.decode(codec), len(data)
    except UnicodeDecodeError as problem:
        if problem.end < len(data) or problem.reason not in {"unexpected end of data", "truncated data"}:
            raise
        used = problem.start
        text = data[:used].decode(codec)
    kept = text.rstrip("\0")
    named = {"cp1252": "windows-1252", "utf-8": "utf-8", "utf-8-sig": "utf-8"}.get(codec, "utf-16")
    return Decoded(text=kept, encoding=named, tail=len(data) - used + len(text) - len(kept))


def _looks_binary(text: str) -> bool:
    head = text[:_HEAD]
    return (
        "\0" in text
        or bool(_CONTROL.search(text[:_START]))
        or len(_CONTROL.findall(head)) > _FEW_CONTROLS + _CONTROL_SHARE * len(head)
    )

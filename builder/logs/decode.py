"""Bytes of a log -> text, with the encoding that was found."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

from builder.core.errors import Problems, Span

MAX_BYTES = 200_000_000
_HEAD = 65_536
_START = 16  # a text begins with text
_CONTROL = re.compile(r"[\x01-\x08\x0e-\x1f]")
_FEW_CONTROLS, _CONTROL_SHARE = 8, 0.002
_CODECS = {"utf-8": "utf-8", "windows-1252": "cp1252"}


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
    found = codec_of(data, encoding)
    try:
        decoded = _decoded(data, found)
    except UnicodeDecodeError as problem:
        _report_bytes(data, problem, encoding, where, problems)
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


def _decoded(data: bytes, codec: str) -> Decoded | None:
    if codec != "auto":
        return _whole(data, codec)
    try:
        return _whole(data, "utf-8")
    except UnicodeDecodeError:
        pass
    try:
        return _whole(data, "cp1252")
    except UnicodeDecodeError:
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
    return Decoded(text=kept, encoding=_public(codec), tail=len(data) - used + len(text) - len(kept))


def _public(codec: str) -> str:
    if codec == "cp1252":
        return "windows-1252"
    return "utf-16" if codec.startswith("utf-16") else "utf-8"


def _looks_binary(text: str) -> bool:
    head = text[:_HEAD]
    return (
        "\0" in text
        or bool(_CONTROL.search(text[:_START]))
        or len(_CONTROL.findall(head)) > _FEW_CONTROLS + _CONTROL_SHARE * len(head)
    )


def _report_bytes(data: bytes, problem: UnicodeDecodeError, encoding: str, where: Span, problems: Problems) -> None:
    before = data[: problem.start]
    place = Span(file=where.file, line=before.count(b"\n") + 1)
    shown = data[problem.start : problem.start + 1].hex()
    problems.error(
        "wrong-encoding",
        place,
        f"byte 0x{shown} does not fit the encoding {problem.encoding}",
        "set encoding: auto in the reader" if encoding != "auto" else "save the log as UTF-8",
    )

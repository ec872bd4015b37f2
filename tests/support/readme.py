"""The commands that the README shows."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass

from tests.support.command import ROOT


@dataclass(frozen=True, kw_only=True)
class Block:
    """One fenced block of code: its language and its text."""

    language: str
    text: str


def blocks(text: str) -> list[Block]:
    found = re.findall(r"^```(\w*)\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)
    return [Block(language=language, text=body) for language, body in found]


def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def lines() -> list[str]:
    """Every line that the README asks to type, without its remark."""
    shell = "\n".join(block.text for block in blocks(readme()) if block.language == "sh")
    return [re.sub(r"\s+#.*", "", line) for line in shell.splitlines() if line.strip()]


def commands() -> list[list[str]]:
    """The words of every command, those joined by `&&` one by one."""
    return [shlex.split(part) for line in lines() for part in line.split(" && ")]

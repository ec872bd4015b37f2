"""Audits every kind of page of the demo with Lighthouse 12.2.3: `python -m tests.lighthouse [PAGE ...]`.

Prints the four scores of each page, and every audit that keeps a score below 100. Ends with 1 where a score is below
100 for another reason than those in `KNOWN`. The program is brought by npm on the first run.
"""

from __future__ import annotations

import gzip
import http.server
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from http import HTTPStatus
from pathlib import Path
from typing import Any

from tests.support.browser import ARGUMENTS
from tests.support.command import DEMO, must
from tests.support.pages import Site, read_site

HERE = Path(__file__).resolve().parent
CATEGORIES = ("performance", "accessibility", "best-practices", "seo")
COMPRESSED = (".html", ".css", ".js", ".json", ".xml", ".svg", ".txt", ".csv")
# Why a page may stay below 100, by the audit and the page that it concerns; "*" stands for every page.
BUSY = "a phone four times slower: a long table, or many charts, takes its time to be laid out, in tasks of their own"
KNOWN: Mapping[tuple[str, str], str] = {
    ("is-crawlable", "404.html"): "a page that says what is missing must not be found by searching",
    ("first-contentful-paint", "*"): BUSY,
    ("largest-contentful-paint", "*"): BUSY,
    ("speed-index", "*"): BUSY,
    ("total-blocking-time", "*"): BUSY,
}


@dataclass(frozen=True, kw_only=True)
class Audited:
    """The scores of one page from 0 to 100, and the audits that cost points."""

    page: str
    scores: Mapping[str, int]
    costly: tuple[tuple[str, str], ...]

    @property
    def unexplained(self) -> tuple[str, ...]:
        """Audits that cost points and whose reason is not known."""
        return tuple(name for name, _ in self.costly if not known(name, self.page))


def known(audit_id: str, page: str) -> str:
    """Return the reason why an audit may cost points on a page, in brackets, or an empty text."""
    reason = KNOWN.get((audit_id, page)) or KNOWN.get((audit_id, "*"))
    return f" ({reason})" if reason else ""


class _Host(http.server.SimpleHTTPRequestHandler):
    """Serves as an ordinary host does: compressed where that helps, to be kept for a while."""

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - named by the base class
        """Keep the output free of access lines."""

    def do_GET(self) -> None:
        """Answer with the file, compressed where it is text."""
        file = Path(self.translate_path(self.path))
        if not file.is_file():
            self.send_error(HTTPStatus.NOT_FOUND)
            return
        text = file.suffix in COMPRESSED
        data = gzip.compress(file.read_bytes(), mtime=0) if text else file.read_bytes()
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", self.guess_type(str(file)) + ("; charset=utf-8" if text else ""))
        self.send_header("Content-Length", str(len(data)))
        self.send_header("Cache-Control", "public, max-age=31536000")
        if text:
            self.send_header("Content-Encoding", "gzip")
        self.end_headers()
        self.wfile.write(data)


@contextmanager
def hosted(folder: Path) -> Iterator[str]:
    """The address of a folder on a loopback server, with a slash at its end."""
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(_Host, directory=str(folder))) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()


def bring() -> Path:
    """Install the program once and return its command."""
    command = HERE / "node_modules" / ".bin" / "lighthouse"
    if not command.exists():
        subprocess.run(["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--silent"], cwd=HERE, check=True)
    return command


def audit(command: Path, address: str, page: str, folder: Path) -> Audited:
    """Return what the program says of one page on a phone."""
    report = folder / "report.json"
    report.unlink(missing_ok=True)
    flags = " ".join(["--headless=new", *ARGUMENTS])
    options = ["--output=json", f"--output-path={report}", "--quiet", f"--only-categories={','.join(CATEGORIES)}"]
    chromium = shutil.which("chromium") or "chromium"
    subprocess.run(
        [command, address + page, *options, f"--chrome-flags={flags}"],
        env={**os.environ, "CHROME_PATH": chromium},
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return _read(page, json.loads(report.read_text(encoding="utf-8")))


def _read(page: str, report: dict[str, Any]) -> Audited:
    categories, audits = report["categories"], report["audits"]
    scores = {name: round(100 * (categories[name]["score"] or 0)) for name in CATEGORIES}
    costly = {
        ref["id"]: audits[ref["id"]]["title"] + _detail(audits[ref["id"]])
        for name in CATEGORIES
        if scores[name] < 100
        for ref in categories[name]["auditRefs"]
        if ref["weight"] > 0 and audits[ref["id"]]["score"] is not None and audits[ref["id"]]["score"] < 1
    }
    return Audited(page=page, scores=scores, costly=tuple(sorted(costly.items())))


def _detail(found: dict[str, Any]) -> str:
    value = found.get("displayValue", "")
    items = (found.get("details") or {}).get("items") or []
    first = json.dumps(items[0], ensure_ascii=False)[:300] if items else ""
    return " ".join(part for part in ("", value, first) if part)


def published(folder: Path) -> Site:
    """Return the demo's site, published into a folder."""
    shutil.copytree(DEMO, folder / "archive", ignore=shutil.ignore_patterns("public", ".soakbook-*"))
    must("publish", folder / "archive", "--out", folder / "site")
    return Site(folder=folder / "site", pages=tuple(read_site(folder / "site")))


def main(wanted: Sequence[str]) -> int:
    """Print the scores and return the exit code."""
    command = bring()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        site = published(folder)
        bad = False
        sys.stdout.write(f"{'':<44}{''.join(f'{c:>16}' for c in CATEGORIES)}\n")
        with hosted(site.folder) as address:
            for page in wanted or [page.path for page in site.kinds]:
                found = audit(command, address, page, folder)
                bad = bad or bool(found.unexplained)
                sys.stdout.write(f"{page:<44}{''.join(f'{found.scores[c]:>16}' for c in CATEGORIES)}\n")
                sys.stdout.writelines(f"    {name}: {text}{known(name, page)}\n" for name, text in found.costly)
                sys.stdout.flush()
    return int(bad)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""The preview in a real browser: what is changed in the folder is seen without a touch of the browser."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page

from builder.commands.preview.planned_site import File
from builder.commands.preview.served_site import ServedSite
from builder.commands.preview.watch import WatchedFolders
from builder.commands.start import start_archive
from tests.support.browser import Visit, listen
from tests.support.command import ROOT, START, must

BUNDLE = "example-tower-on-example-card"
RESULT = f"results/{BUNDLE}.html"


@dataclass(kw_only=True)
class Running:
    """A preview in a process of its own, with what it said."""

    root: Path
    temporary: Path
    process: subprocess.Popen[str]
    told: list[str] = field(default_factory=list)
    reader: threading.Thread = field(default_factory=threading.Thread)

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        self.reader.join()
        if self.process.stderr:
            self.process.stderr.close()

    def wait_for(self, pattern: str, timeout: float = 120.0) -> re.Match[str]:
        ends = time.monotonic() + timeout
        while time.monotonic() < ends:
            for line in tuple(self.told):
                if match := re.search(pattern, line):
                    return match
            assert self.process.poll() is None, self.told
            time.sleep(0.02)
        raise AssertionError(f"never said {pattern}: {self.told}")

    @property
    def address(self) -> str:
        return self.wait_for(r"^(http://127\.0\.0\.1:\d+/) shows the site of")[1]

    @property
    def port(self) -> int:
        return int(self.address.rstrip("/").rpartition(":")[2])

    def file(self, name: str) -> Path:
        return self.root / name

    def swap(self, name: str, old: str, new: str) -> None:
        text = self.file(name).read_text(encoding="utf-8")
        assert old in text
        self.file(name).write_text(text.replace(old, new), encoding="utf-8")


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


def run_preview(folder: Path, port: int) -> Running:
    root, temporary = folder / "archive", folder / "temporary"
    if not root.exists():
        start_archive(root)
    temporary.mkdir(exist_ok=True)
    process = subprocess.Popen(
        [sys.executable, "-c", START, "preview", root, "--port", str(port)],
        env={
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "TMPDIR": str(temporary),
            "XDG_STATE_HOME": str(folder / "state"),
        },
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        encoding="utf-8",
    )
    found = Running(root=root, temporary=temporary, process=process)
    assert process.stderr
    found.reader = threading.Thread(target=found.told.extend, args=[process.stderr], daemon=True)
    found.reader.start()
    return found


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    found = run_preview(tmp_path_factory.mktemp("preview"), free_port())
    try:
        found.wait_for(r"^\d+ of \d+ files new")
        yield found
    finally:
        found.close()


@pytest.fixture
def visit(running: Running, browser: Browser) -> Iterator[Visit]:
    """A page of the browser on the result, with its reload script connected."""
    context = browser.new_context()
    page = context.new_page()
    found = listen(page)
    answers: list[str | bytes] = []

    def heard(frame: str | bytes) -> None:
        answers.append(frame)

    page.on("websocket", lambda socket: socket.on("framereceived", heard))
    page.goto(running.address + RESULT)
    while not answers:
        page.wait_for_timeout(20)
    yield found
    context.close()


def seen(page: Page, script: str, timeout: float = 60.0) -> float:
    """Wait until a script gives true in the page, which may be reloading, and return how long that took."""
    began = time.monotonic()
    while time.monotonic() < began + timeout:
        try:
            if page.evaluate(script):
                return time.monotonic() - began
        except Error:
            pass  # between two pages
        time.sleep(0.02)
    raise AssertionError(f"never true: {script}\n{page.content()[:2000]}")


def shows(text: str) -> str:
    return f"document.body.innerText.includes({text!r})"


# --- what is seen --------------------------------------------------------------------------------------------------


def test_a_changed_bundle_is_seen(running: Running, visit: Visit) -> None:
    running.swap(f"bundles/{BUNDLE}/bundle.yaml", "An invented result", "A zebra of a result")
    seen(visit.page, shows("A zebra of a result"))
    running.swap(f"bundles/{BUNDLE}/bundle.yaml", "A zebra of a result", "An invented result")
    seen(visit.page, shows("An invented result"))
    assert visit.complaints == []


def test_new_notes_are_seen(running: Running, visit: Visit) -> None:
    running.file(f"bundles/{BUNDLE}/notes.md").write_text("The okapi ate the paste.\n", encoding="utf-8")
    seen(visit.page, shows("The okapi ate the paste."))


def test_a_changed_log_is_seen(running: Running, visit: Visit) -> None:
    log = running.file(f"bundles/{BUNDLE}/m1-stock.csv")
    whole = log.read_text(encoding="utf-8")
    log.write_text("".join(whole.splitlines(keepends=True)[:200]), encoding="utf-8")
    seen(visit.page, shows("too short"))
    log.write_text(whole, encoding="utf-8")
    seen(visit.page, f"!{shows('too short')}")


def test_a_changed_style_is_seen(running: Running, visit: Visit) -> None:
    sheet = running.file("theme/static/css/print.css")
    sheet.parent.mkdir(parents=True)
    for width in ("7px", "9px"):
        sheet.write_text(f"body {{ outline: {width} solid; }}", encoding="utf-8")
        seen(visit.page, f"getComputedStyle(document.body).outlineWidth === {width!r}")


def test_a_changed_template_and_an_own_page_are_seen(running: Running, visit: Visit) -> None:
    templates = running.file("theme/templates/pages")
    templates.mkdir(parents=True)
    (templates / "words.html").write_text("<html><head></head><body>{{ view.html }} gnu</body></html>", "utf-8")
    running.file("pages").mkdir()
    running.file("pages/about.md").write_text("# About\n\nA tapir runs this bench.\n", encoding="utf-8")
    visit.page.goto(running.address + "about.html")
    seen(visit.page, f"{shows('A tapir runs this bench.')} && {shows('gnu')}")
    running.file("pages/about.md").write_text("# About\n\nA kiwi runs this bench.\n", encoding="utf-8")
    seen(visit.page, shows("A kiwi runs this bench."))
    (templates / "words.html").unlink()
    seen(visit.page, f"!{shows('gnu')} && {shows('A kiwi runs this bench.')}")


def test_pages_that_nobody_looked_at_follow_too(running: Running, visit: Visit) -> None:
    running.swap("cards/example-card.yaml", "Example Card 220", "Quokka card")
    seen(visit.page, shows("Quokka card"))
    visit.page.goto(running.address + "cards/index.html")
    seen(visit.page, shows("Quokka card"))
    running.swap("cards/example-card.yaml", "Quokka card", "Example Card 220")
    seen(visit.page, shows("Example Card 220"))


# --- what is wrong is shown, and the site comes back ---------------------------------------------------------------


def test_an_error_is_shown_with_file_line_and_hint_until_it_is_mended(running: Running, visit: Visit) -> None:
    name = f"bundles/{BUNDLE}/bundle.yaml"
    running.swap(name, "cooler: example-tower", "cooler: example-towr")
    seen(visit.page, shows("did you mean"))
    text = visit.page.inner_text("main")
    assert re.search(rf"{name}:3:9\s+error: cooler \"example-towr\" does not exist", text)
    assert 'Hint: did you mean "example-tower"?' in text
    for page in ("index.html", "", "cards/index.html"):
        assert b"example-towr" in fetch(running, f"/{page}").body
    running.swap(name, "cooler: example-towr", "cooler: example-tower")
    seen(visit.page, shows("An invented result"))


def test_an_error_in_a_template_names_its_file_and_line(running: Running, visit: Visit) -> None:
    template = running.file("theme/templates/pages/result.html")
    template.parent.mkdir(parents=True, exist_ok=True)
    template.write_text("<html>\n<head></head>\n{% if %}\n", encoding="utf-8")
    seen(visit.page, shows("theme/templates/pages/result.html:3"))
    template.write_text("<html>\n<head></head>\n\n{{ view.nothing }}\n", encoding="utf-8")
    seen(visit.page, shows("theme/templates/pages/result.html:4"))
    template.unlink()
    seen(visit.page, shows("An invented result"))


# --- who may see it ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Fetched:
    status: int
    body: bytes
    headers: dict[str, str]


def fetch(running: Running, path: str, host: str | None = None) -> Fetched:
    connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=60)
    connection.request("GET", path, headers={"Host": host or f"127.0.0.1:{running.port}"})
    answer = connection.getresponse()
    found = Fetched(status=answer.status, body=answer.read(), headers=dict(answer.getheaders()))
    connection.close()
    return found


def test_it_listens_on_loopback_alone(running: Running) -> None:
    listening = Path("/proc/net/tcp").read_text(encoding="utf-8") + Path("/proc/net/tcp6").read_text(encoding="utf-8")
    port = f"{running.port:04X}"
    addresses = {line.split()[1] for line in listening.splitlines() if line.split()[3] == "0A"}
    assert {a for a in addresses if a.endswith(f":{port}")} == {f"0100007F:{port}"}


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8000", "127.0.0.1.evil.example"])
def test_a_request_for_another_name_is_refused(running: Running, host: str) -> None:
    assert fetch(running, f"/{RESULT}", host).status == 403


@pytest.mark.parametrize(
    ("origin", "host", "status"),
    [
        ("http://127.0.0.1:{port}", "127.0.0.1:{port}", 101),
        ("http://evil.example", "127.0.0.1:{port}", 403),
        ("http://evil.example", "evil.example", 403),
    ],
)
def test_a_page_of_another_site_learns_of_no_change(running: Running, origin: str, host: str, status: int) -> None:
    upgrade = {
        "Host": host.format(port=running.port),
        "Origin": origin.format(port=running.port),
        "Upgrade": "websocket",
        "Connection": "Upgrade",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==",
    }
    connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=60)
    connection.request("GET", "/livereload", headers=upgrade)
    assert connection.getresponse().status == status
    connection.close()


@pytest.mark.parametrize("path", ["/../archive.yaml", "/%2e%2e/archive.yaml", "/static/../../archive.yaml", "/nowhere"])
def test_there_is_nothing_but_the_site(running: Running, path: str) -> None:
    answer = fetch(running, path)
    assert answer.status == 404
    assert b"Your channel and your site" not in answer.body


def test_the_reload_script_is_in_the_served_copy_alone(running: Running, tmp_path: Path) -> None:
    served = fetch(running, f"/{RESULT}")
    must("publish", running.root, "--out", tmp_path / "site")
    published = (tmp_path / "site" / RESULT).read_bytes()
    script = b'<script src="/livereload.js"></script>'
    assert served.body.count(script) == 1
    assert served.body.replace(script, b"") == published
    assert served.headers["Cache-Control"] == "no-store"


def test_nothing_is_written_into_the_archive_but_the_cache(running: Running) -> None:
    assert not (running.root / "public").exists()
    assert {p.name for p in running.root.iterdir() if p.name.startswith(".")} == {".schemas", ".soakbook-cache"}


# --- beginning and end ---------------------------------------------------------------------------------------------


def test_a_taken_port_is_named_and_the_next_free_one_used(running: Running) -> None:
    taken = running.port
    second = run_preview(running.root.parent, taken)
    try:
        used = int(second.wait_for(rf"port {taken} is taken by another program; port (\d+) is free")[1])
        assert used > taken
        assert second.port == used
        second.process.send_signal(signal.SIGINT)
        assert second.process.wait(timeout=60) == 0
    finally:
        second.close()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_ends_it_cleanly(tmp_path: Path, number: signal.Signals) -> None:
    found = run_preview(tmp_path, free_port())
    try:
        assert found.address
        assert [p.name for p in found.temporary.iterdir()] != []
        found.process.send_signal(number)
        assert found.process.wait(timeout=60) == 0
        assert list(found.temporary.iterdir()) == []
        assert "Traceback" not in "".join(found.told)
    finally:
        found.close()


def test_a_broken_archive_is_shown_as_broken_from_the_start(tmp_path: Path, browser: Browser) -> None:
    (tmp_path / "archive").mkdir()
    found = run_preview(tmp_path, free_port())
    try:
        page = browser.new_page()
        page.goto(found.address)
        seen(page, shows("this folder is no archive: it has no archive.yaml"))
        (tmp_path / "archive" / "archive.yaml").write_text("channel: Late lantern\n", encoding="utf-8")
        seen(page, shows("Late lantern"))
        page.close()
    finally:
        found.close()


# --- its parts -----------------------------------------------------------------------------------------------------


def test_made_changed_and_removed_files_are_seen_once(tmp_path: Path) -> None:
    folders = WatchedFolders(archive=tmp_path)
    (tmp_path / "a").mkdir()
    file = tmp_path / "a" / "b.yaml"
    file.write_text("1", encoding="utf-8")
    assert folders.changes() == (file,)
    assert folders.changes() == ()
    file.write_text("22", encoding="utf-8")
    assert folders.changes() == (file,)
    file.unlink()
    assert folders.changes() == (file,)


def test_a_file_that_is_emptied_is_seen_once_it_is_written_or_stays_empty(tmp_path: Path) -> None:
    folders = WatchedFolders(archive=tmp_path)
    file = tmp_path / "b.yaml"
    file.write_text("1", encoding="utf-8")
    assert folders.changes() == (file,)
    file.write_text("", encoding="utf-8")
    assert folders.changes() == ()
    file.write_text("22", encoding="utf-8")
    assert folders.changes() == (file,)
    file.write_text("", encoding="utf-8")
    assert [folders.changes() for _ in range(3)] == [(), (file,), ()]


def test_hidden_files_and_published_sites_are_not_watched(tmp_path: Path) -> None:
    for name in (".soakbook-cache/ab/c", ".git/index", "public/site.json", "public/index.html"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x", encoding="utf-8")
    assert WatchedFolders(archive=tmp_path).changes() == ()


def test_a_link_that_leads_round_in_a_circle_ends(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to(tmp_path)
    (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
    assert [path.name for path in WatchedFolders(archive=tmp_path).changes()] == ["loop"]


def served_in(folder: Path, told: list[frozenset[str] | None]) -> ServedSite:
    return ServedSite(folder=folder, notice=b"wait", reload=told.append, open_pages=lambda: frozenset({"a.html"}))


def file(path: str, data: bytes) -> File:
    return File(path=path, data=data)


def test_a_notice_stands_in_place_of_every_page_and_no_other_file(tmp_path: Path) -> None:
    served = served_in(tmp_path, [])
    served.update([file("index.html", b"home"), file("x.css", b"css")])
    served.show_notice(b"broken")
    assert [served.answer(p).data for p in ("", "index.html", "other.html", "x.css")] == [*[b"broken"] * 3, b"css"]


def test_browsers_hear_of_what_differs_only(tmp_path: Path) -> None:
    told: list[frozenset[str] | None] = []
    served = served_in(tmp_path, told)
    served.replace([file("index.html", b"1"), file("a.html", b"1")])
    served.replace([file("index.html", b"1"), file("a.html", b"2")])
    served.update([file("a.html", b"2")])
    served.replace([file("index.html", b"1")])
    served.replace([file("index.html", b"1"), file("x.css", b"1")])
    served.replace([file("index.html", b"1")])
    assert told == [None, frozenset({"a.html"}), frozenset({"a.html"}), None, None]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["index.html"]


def test_a_browser_that_connects_after_a_change_is_told_of_it(tmp_path: Path) -> None:
    served = served_in(tmp_path, [])
    served.replace([file("a.html", b"1"), file("b.html", b"1")])
    served.answer("a.html")
    assert not served.is_stale("a.html")
    served.update([file("b.html", b"2")])
    assert not served.is_stale("a.html")
    served.update([file("a.html", b"2")])
    assert served.is_stale("a.html")
    served.answer("a.html")
    served.show_notice(b"broken")
    assert served.is_stale("a.html")


def test_the_page_that_was_asked_for_last_is_made_first(tmp_path: Path) -> None:
    served = served_in(tmp_path, [])
    served.replace([file("index.html", b"1"), file("b.html", b"1"), file("x.css", b"1")])
    served.answer("b.html")
    served.answer("x.css")
    assert served.pages_in_view() == {"a.html", "b.html"}

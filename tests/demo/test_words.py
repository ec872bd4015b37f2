"""What the demo's scripts and notes say, and what the kit would have one say, against its figures."""

from __future__ import annotations

from builder.commands.check_words import check_narration
from builder.comparison import Tested, subjects
from builder.core.errors import Severity
from builder.kit.spoken_lines import lines_document
from builder.narration import Words, check_words
from tests.demo.conftest import Demo
from tests.support.command import DEMO


def test_the_demos_scripts_and_notes_are_true(demo: Demo) -> None:
    found = check_narration(DEMO, Tested(catalogue=demo.catalogue, results=demo.results))
    assert [str(p) for p in found.problems if p.severity is not Severity.NOTICE] == []
    linked = {file: len(words.linked) for file, words in found.checked.items()}
    assert sum(count > 5 for file, count in linked.items() if file.endswith("script.md")) == 2
    assert any(count for file, count in linked.items() if file.endswith("notes.md"))


def test_every_spoken_line_of_the_demo_is_true(demo: Demo) -> None:
    tested = Tested(catalogue=demo.catalogue, results=demo.results)
    for subject in subjects(demo.catalogue, demo.results):
        text = lines_document(subject, tested)
        checked = check_words(Words(file=f"{subject.id}/lines.md", bundle=subject.id, text=text), tested)
        assert [str(p) for p in checked.problems if p.severity is Severity.ERROR] == []
        assert checked.unlinked == ()

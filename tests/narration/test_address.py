"""Addresses of figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.narration import Address, is_figure_link, parse_address

READ = {
    "figure:stock/core_rise": Address(bundle="slab", point="stock", kind="core_rise"),
    "figure:twin/power-80/board_power": Address(bundle="twin", point="power-80", kind="board_power"),
    "figure:stock/core_rise#own": Address(bundle="slab", point="stock", kind="core_rise", own=True),
    "figure:power-80/board_power#change": Address(bundle="slab", point="power-80", kind="board_power", change=True),
    "figure:stock/core_rise~twin": Address(bundle="slab", point="stock", kind="core_rise", other="twin"),
    "figure:twin/stock/core_rise~slab": Address(bundle="twin", point="stock", kind="core_rise", other="slab"),
}


@pytest.mark.parametrize(("target", "address"), READ.items(), ids=READ.keys())
def test_addresses_are_read_and_written_alike(target: str, address: Address) -> None:
    assert parse_address(target, here="slab") == address
    assert address.text(here="slab") == target


NONE = ("figure:", "figure:core_rise", "figure:a/b/c/d", "figure:stock/core_rise#percent", "figure:stock/",
        "figure:stock/core_rise~", "figure:stock/core_rise~twin#change", "figure:stock/core_rise#own#change",
        "figure:../x/y", "Figure:stock/core_rise",
        "figure:stock/core rise", "https://figure.example/", "figure:stöck/core_rise")  # fmt: skip


@pytest.mark.parametrize("target", NONE)
def test_what_is_no_address(target: str) -> None:
    assert parse_address(target, here="slab") is None


@pytest.mark.parametrize("target", ["figure:stock/core_rise", "FIGURE:x", "figure:"])
def test_a_link_of_the_scheme_is_known_even_where_it_is_wrong(target: str) -> None:
    assert is_figure_link(target)
    assert not is_figure_link(f"x{target}")


NAMES = st.from_regex(r"[a-z0-9]+(-[a-z0-9]+)*", fullmatch=True)
KINDS = st.from_regex(r"[a-z0-9]+(_[a-z0-9]+)*", fullmatch=True)


@given(st.builds(Address, bundle=NAMES, point=NAMES, kind=KINDS, other=NAMES), NAMES)
def test_every_address_survives_being_written(address: Address, here: str) -> None:
    assert parse_address(address.text(here=here), here=here) == address


@given(st.text(max_size=40))
def test_any_target_can_be_read(target: str) -> None:
    found = parse_address(f"figure:{target}", here="slab")
    assert found is None or found.kind

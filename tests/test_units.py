"""Measures as people type them, and back again without losing a nanometre."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, LONGEST, METRE, MM, show_length, show_size, type_length
from app.units import (
    parse_length,
    parse_minutes,
    parse_quantity,
    show_quantity,
    type_quantity,
)


@pytest.mark.parametrize(
    ("typed", "nm"),
    [
        ("114", 114 * MM),
        ("114 mm", 114 * MM),
        ("114mm", 114 * MM),
        ("11,4 cm", 114 * MM),
        ("11.4cm", 114 * MM),
        ("0.114 m", 114 * MM),
        ("4 1/2 in", 9 * INCH // 2),
        ("4-1/2 in", 9 * INCH // 2),
        ("4½\"", 9 * INCH // 2),
        ("4 ½ ″", 9 * INCH // 2),
        ("½ in", INCH // 2),
        ("4.5in", 9 * INCH // 2),
        ("1/64 in", 396_875),
        ("0.01 mm", 10_000),
        ("2 1/16 inches", 33 * INCH // 16),
        ("1 ft", 12 * INCH),
        ("1 yd", 36 * INCH),
        ("-5", -5 * MM),
        ("−5 mm", -5 * MM),
        ("  7  ", 7 * MM),
        ("1/3 in", round(Fraction(INCH, 3))),
        (".5 in", INCH // 2),
    ],
)  # fmt: skip
def test_lengths_as_people_type_them(typed: str, nm: int) -> None:
    assert parse_length(typed, "mm") == nm


def test_a_bare_number_is_in_the_shops_unit() -> None:
    assert parse_length("4 1/2", "in") == 9 * INCH // 2
    assert parse_length("4.5", "mm") == 9 * MM // 2


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("abc", "not a length"),
        ("", "not a length"),
        ("4 furlong", "no unit"),
        ("1/0", "zero below"),
        ("1e3", "not a length"),
        ("4 1/2 1/2", "not a length"),
        ("99999999 m", "longer than 10 km"),
        ("9" * 80, "too long"),
        ("nan", "not a length"),
        ("<b>4</b>", "not a length"),
    ],
)
def test_what_is_no_length_is_said_so(typed: str, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        parse_length(typed, "mm")


@given(st.integers(-LONGEST, LONGEST), st.sampled_from(["mm", "in"]))
def test_a_length_survives_the_round_trip(nm: int, unit: str) -> None:
    assert parse_length(type_length(nm, unit), unit) == nm


@given(st.integers(-(10**6), 10**6))
def test_sixty_fourths_of_an_inch_are_exact(parts: int) -> None:
    nm = parts * 396_875
    assert parse_length(show_length(nm, "in"), "in") == nm


@given(st.integers(0, 10**7))
def test_hundredths_of_a_millimetre_are_exact(parts: int) -> None:
    nm = parts * 10_000
    if nm < 2 * METRE:
        assert parse_length(show_length(nm, "mm"), "mm") == nm


@given(st.integers(0, LONGEST), st.sampled_from(["length", "mass", "volume"]),
       st.sampled_from(["mm", "in"]))  # fmt: skip
def test_a_quantity_survives_the_round_trip(amount: int, measure: str, unit: str) -> None:
    assert parse_quantity(type_quantity(amount, measure, unit), measure, unit) == amount


@given(st.integers(0, 10**8))
def test_a_count_survives_the_round_trip(amount: int) -> None:
    assert parse_quantity(type_quantity(amount, "count", "mm"), "count", "mm") == amount


@pytest.mark.parametrize(
    ("typed", "measure", "amount"),
    [
        ("50", "length", 50 * METRE),
        ("50 m", "length", 50 * METRE),
        ("25 cm", "length", 250 * MM),
        ("250 g", "mass", 250_000),
        ("1 kg", "mass", 1_000_000),
        ("1 oz", "mass", 28_350),  # 28.349523125 g, to the milligram
        ("500 ml", "volume", 500_000),
        ("1 l", "volume", 1_000_000),
        ("60", "count", 60),
    ],
)
def test_quantities_as_people_type_them(typed: str, measure: str, amount: int) -> None:
    assert parse_quantity(typed, measure, "mm") == amount


@pytest.mark.parametrize(
    ("typed", "measure"), [("1.5", "count"), ("-3", "count"), ("-1 m", "length"), ("x", "mass")]
)
def test_quantities_that_make_no_sense(typed: str, measure: str) -> None:
    with pytest.raises(DomainError):
        parse_quantity(typed, measure, "mm")


def test_quantities_in_words() -> None:
    assert show_quantity(1_020 * MM, "length", "mm") == "1.02 m"
    assert show_quantity(36 * INCH, "length", "in") == "1 yd"
    assert show_quantity(1_500_000, "mass", "mm") == "1.5 kg"
    assert show_quantity(12_500, "volume", "mm") == "12.5 ml"


def test_minutes() -> None:
    assert parse_minutes("1.5 h") == 90
    assert parse_minutes("1/4") == Decimal("0.25")
    assert parse_minutes("30 s") == Decimal("0.5")
    with pytest.raises(DomainError):
        parse_minutes("-1")


def test_sizes_say_their_unit_once() -> None:
    assert show_size(560 * MM, 760 * MM, "mm") == "560 × 760 mm"
    assert show_size(INCH, 3 * INCH // 2, "in") == "1 × 1 1/2 in"

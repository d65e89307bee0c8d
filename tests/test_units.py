"""Measures as people type them, and back again without losing a nanometre."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, LONGEST, METRE, MM, show_length, show_size, type_length
from app.core.numbers import STYLES, number_style, read_number, style_of_language, styled
from app.language import speaking
from app.units import (
    COUNTED,
    DM2,
    M2,
    SQUARE_FOOT,
    parse_count,
    parse_length,
    parse_minutes,
    parse_quantity,
    parse_size,
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


@given(st.integers(0, LONGEST), st.sampled_from(["length", "mass", "volume", "area"]),
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


@pytest.fixture
def style(request: pytest.FixtureRequest) -> Iterator[str]:
    """The shop's number style for one test."""
    token = number_style.set(request.param)
    yield request.param
    number_style.reset(token)


@pytest.mark.parametrize(
    ("style", "typed", "number"),
    [
        ("point", "1,000", 1000), ("point", "1.000", 1), ("point", "1,250", 1250),
        ("comma", "1.000", 1000), ("comma", "1,000", 1), ("comma", "1,250", "1.25"),
        ("space", "1 000", 1000), ("space", "1,000", 1), ("point", "1 000", 1000),
        ("point", "11,4", "11.4"), ("comma", "11.4", "11.4"), ("space", "11.4", "11.4"),
        ("point", "1.234,5", "1234.5"), ("comma", "1,234.5", "1234.5"),
        ("point", "1,234,567", 1234567), ("comma", "1.234.567", 1234567),
        ("point", "0,125", "0.125"), ("comma", "0.125", "0.125"), ("point", "1234,567", "1234.567"),
        ("point", "12,3456", "12.3456"), ("point", "1’234.50", "1234.5"), ("point", "-1,000", -1000),
        ("comma", "-1.000,5", "-1000.5"), ("space", "1\u202f234,5", "1234.5"), ("point", "+7", 7),
        ("point", ".5", "0.5"), ("comma", ",5", "0.5"), ("point", "999,999.25", "999999.25"),
    ],
    indirect=["style"],
)  # fmt: skip
def test_a_number_is_read_by_the_style_of_the_shop(style: str, typed: str, number: object) -> None:
    assert read_number(typed) == Decimal(str(number))


@pytest.mark.parametrize(
    ("style", "typed", "says"),
    [
        ("space", "1.000", r"type 1000 for 1.000, or 1,000 for 1\."),
        ("space", "12.250", r"type 12250 for 12.250, or 12,250 for 12,25\."),
        ("space", "-1.500", r"type -1500 for -1.500, or -1,500 for -1,5\."),
        ("point", "1,2,3", "not a number"), ("point", "1.2.3", "not a number"),
        ("point", "1,23.4", "not a number"), ("point", "1.234,5,6", "not a number"),
        ("point", "1,234.5.6", "not a number"), ("comma", "1,000.000,5", "not a number"),
        ("point", "nan", "not a number"), ("point", "1e5", "not a number"), ("point", "", "not a"),
        ("point", "9" * 31, "not a number"), ("point", "1 00", "not a number"),
        ("point", "0,123,456", "not a number"), ("point", "1234,567,890", "not a number"),
    ],
    indirect=["style"],
)  # fmt: skip
def test_a_number_that_could_be_two_is_refused_with_both(style: str, typed: str, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        read_number(typed)


@given(st.decimals(-(10**7), 10**7, places=3), st.sampled_from(list(STYLES)))
def test_what_is_shown_means_the_same_where_it_is_typed(number: Decimal, used: str) -> None:
    token = number_style.set(used)
    try:
        assert read_number(styled(f"{number:,.3f}")) == number
        assert read_number(styled(f"{number:.3f}")) == number
        nm = abs(int(number * 1000))
        for unit in ("mm", "in"):
            assert parse_length(type_length(nm, unit), unit) == nm
        assert parse_quantity(type_quantity(nm, "mass", "mm"), "mass", "mm") == nm
    finally:
        number_style.reset(token)


@pytest.mark.parametrize(
    ("tag", "style_there"),
    [("de_DE.UTF-8", "comma"), ("de_CH", "point"), ("fr-FR", "space"), ("en_GB.UTF-8", "point"),
     ("es_MX", "point"), ("es_ES", "comma"), ("C.UTF-8", "point"), ("", "point"), ("pl", "space")],
)  # fmt: skip
def test_the_style_of_a_language(tag: str, style_there: str) -> None:
    # Common practice, no source.
    assert style_of_language(tag) == style_there


@pytest.mark.parametrize(
    ("typed", "nm"),
    [("1,000 mm", METRE), ("1 000 mm", METRE), ("2 yds", 72 * INCH), ("3 feet", 36 * INCH),
     ("5 ft 3 1/2 in", 127 * INCH // 2), ("5'3\"", 63 * INCH), ("12 125/1000 in", 97 * INCH // 8),
     ("10 1/2 in", 21 * INCH // 2), ("1,234.5 mm", 2469 * MM // 2)],
)  # fmt: skip
def test_a_thousand_millimetres_is_no_millimetre(typed: str, nm: int) -> None:
    assert parse_length(typed, "mm") == nm


@pytest.mark.parametrize(
    ("typed", "measure", "amount"),
    [("25 sheets", "count", 25), ("1 sheet", "count", 1), ("1,000", "count", 1000),
     ("12 pcs.", "count", 12), ("40 beads", "count", 40), ("2 kg", "mass", 2_000_000),
     ("3 yds", "length", 108 * INCH), ("2 litres", "volume", 2_000_000)],
)  # fmt: skip
def test_what_people_type_for_a_quantity(typed: str, measure: str, amount: int) -> None:
    assert parse_quantity(typed, measure, "mm") == amount


@pytest.mark.parametrize(
    ("typed", "says"),
    [("3 packs", "“packs” is not counted here"), ("1.5 sheets", "not a whole number"),
     ("sheets", "not a whole number"), ("9" * 12, "more than this program counts"), ("-1", "not below zero"), ("x" * 70, "not a whole")],
)  # fmt: skip
def test_what_is_no_count_is_said_so(typed: str, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        parse_count(typed)


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [("1 h 30", 90), ("1h30", 90), ("1 h 5 min", 65), ("2:15", 135), ("2 hours 10 minutes", 130),
     ("90", 90), ("1/2 h", 30), ("45 mins", 45)],
)  # fmt: skip
def test_hours_and_minutes_as_people_type_them(typed: str, minutes: int) -> None:
    assert parse_minutes(typed) == minutes


@pytest.mark.parametrize(
    ("typed", "unit", "amount"),
    [
        ("6 dm²", "mm", 6 * DM2), ("6dm2", "mm", 6 * DM2), ("6 dm^2", "in", 6 * DM2),
        ("12", "mm", 12 * DM2), ("12", "in", 12 * SQUARE_FOOT), ("½ m²", "mm", M2 // 2),
        ("1,5 m2", "mm", 3 * M2 // 2), ("250 cm²", "mm", 5 * DM2 // 2), ("4 mm²", "mm", 4 * 10**6),
        ("2 sq. ft", "mm", 2 * SQUARE_FOOT), ("2 square feet", "mm", 2 * SQUARE_FOOT),
        ("1 1/2 ft²", "in", 3 * SQUARE_FOOT // 2), ("144 sq in", "in", SQUARE_FOOT),
        ("1 sq yd", "in", 9 * SQUARE_FOOT), ("3 Square Metres", "mm", 3 * M2), ("0", "mm", 0),
    ],
)  # fmt: skip
def test_areas_as_people_type_them(typed: str, unit: str, amount: int) -> None:
    assert parse_quantity(typed, "area", unit) == amount


@pytest.mark.parametrize(
    ("typed", "says"),
    [("6 dm", "no unit of area"), ("6 g", "no unit of area"), ("6 sq", "no unit of area"),
     ("lots", "not an area such as"), ("20 sq miles", "no unit of area"), ("-1 m2", "bounds"),
     ("10001 m²", "bounds"), ("", "not an area such as")],
)  # fmt: skip
def test_what_is_no_area_is_said_so(typed: str, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        parse_quantity(typed, "area", "mm")


@pytest.mark.parametrize(
    ("typed", "unit", "amount"),
    [
        ("30 × 20 cm", "mm", 6 * DM2), ("300x200", "mm", 6 * DM2), ("30 cm x 20 cm", "mm", 6 * DM2),
        ("30 cm by 200 mm", "mm", 6 * DM2), ("12 x 12 in", "mm", SQUARE_FOOT),
        ("12 × 12", "in", SQUARE_FOOT), ("1 1/2 x 8 in", "in", SQUARE_FOOT // 12), ("0 x 5", "mm", 0),
        # A tenth of a square thousandth of a millimetre more is a whole one more.
        ("0.0011 × 0.001", "mm", 2), ("0.001 × 0.001", "mm", 1),
    ],
)  # fmt: skip
def test_an_area_from_the_sides_of_a_piece(typed: str, unit: str, amount: int) -> None:
    assert parse_quantity(typed, "area", unit) == amount


@pytest.mark.parametrize("typed", ["30 x", "x 20", "2 x 30 x 20", "a x b", "-3 x 2", "9 km x 9 km"])
def test_sides_that_are_none(typed: str) -> None:
    with pytest.raises(DomainError):
        parse_quantity(typed, "area", "mm")


@pytest.mark.parametrize(
    ("typed", "unit", "sides"),
    [
        ("640 x 900", "mm", (640 * MM, 900 * MM)), ("22 × 30 in", "mm", (22 * INCH, 30 * INCH)),
        ("22x30", "in", (22 * INCH, 30 * INCH)), ("50 cm by 700 mm", "in", (500 * MM, 700 * MM)),
    ],
)  # fmt: skip
def test_a_size_of_two_sides(typed: str, unit: str, sides: tuple[int, int]) -> None:
    assert parse_size(typed, unit) == sides


def test_a_length_is_no_area() -> None:
    for typed in ("6 m2", "6 dm²", "6 sq ft"):
        with pytest.raises(DomainError):
            parse_length(typed, "mm")


def test_feet_yards_and_square_decimetres() -> None:
    # Exact by the international foot of 0.3048 m: 1 and 7 sq ft in dm².
    assert Fraction(SQUARE_FOOT, DM2) == Fraction("9.290304")
    assert type_quantity(7 * SQUARE_FOOT, "area", "mm") == "65.032128 dm²"
    # A yard of cloth 54 in wide, as merchants count it.
    assert parse_quantity("13.5 sq ft", "area", "in") == 36 * 54 * SQUARE_FOOT // 144
    # What is wanted of a skin of which 70% or half is of use, as merchants reckon it.
    assert [100 / Fraction(share, 100) for share in (70, 50)] == [Fraction(1000, 7), 200]


def test_areas_in_words() -> None:
    assert show_quantity(65 * DM2, "area", "mm") == "65 dm²"
    assert show_quantity(150 * DM2, "area", "mm") == "1.5 m²"
    assert show_quantity(100 * DM2, "area", "mm") == "1 m²"
    assert show_quantity(7 * SQUARE_FOOT, "area", "in") == "7 sq ft"
    assert type_quantity(7 * SQUARE_FOOT // 4, "area", "in") == "1.75 sq ft"
    assert type_quantity(6 * DM2, "area", "in") == "6 dm²"


@pytest.mark.parametrize(
    ("tag", "typed", "words"),
    [
        ("de", "3 Packungen", ("pack",)), ("de", "1 Packung", ("pack",)), ("de", "3 packs", ("pack",)),
        ("de", "14 Tage", ("day",)), ("fr", "3 paquets", ("pack",)), ("fr", "14 jours", ("day",)),
        ("fr", "25 feuilles", COUNTED), ("de", "25 Bogen", COUNTED),
    ],
)  # fmt: skip
def test_what_is_counted_may_be_named_in_the_language_of_the_shop(
    tag: str, typed: str, words: tuple[str, ...]
) -> None:
    with speaking(tag):
        assert parse_count(typed, words) == int(typed.split()[0])
        with pytest.raises(DomainError):
            parse_count("3 kg", words)

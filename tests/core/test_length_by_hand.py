"""Lengths and numbers as they are written and read, redone by hand."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

import pytest

from app.core.errors import DomainError
from app.core.length import (
    CM,
    INCH,
    LONGEST,
    METRE,
    MM,
    NM,
    inch_fraction,
    inches,
    measured_up,
    plain_decimal,
    show_length,
    show_size,
    type_length,
)
from app.core.numbers import number_style, read_number, style_of_language, styled


@pytest.fixture(params=["point"])
def style(request: pytest.FixtureRequest) -> Iterator[str]:
    """The shop's number style for one test."""
    token = number_style.set(request.param)
    yield request.param
    number_style.reset(token)


def test_units_are_what_they_are_defined_as() -> None:
    # The inch is 25.4 mm by the agreement of 1959; ten thousand metres are the longest.
    assert (NM, MM, CM, METRE) == (1, 10**6, 10**7, 10**9)
    assert Fraction(INCH, MM) == Fraction("25.4")
    assert LONGEST == 10**13
    assert (inches("4 1/2"), inches(2), inches(Fraction(1, 64))) == (
        114_300_000,
        50_800_000,
        396_875,
    )
    for odd in ("1/3", Fraction(1, 7)):
        with pytest.raises(ValueError, match="whole number"):
            inches(odd)


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("1.005", 2, "1.01"), ("1.0049", 2, "1"), ("-1.005", 2, "-1.01"), ("-0.004", 2, "0"),
        ("-0.005", 2, "-0.01"), ("0", 2, "0"), ("12.30", 2, "12.3"), ("0.05", 1, "0.1"),
        ("2.5", 0, "3"), ("2.4", 0, "2"), ("10", 0, "10"), ("0.007", 3, "0.007"), ("100", 2, "100"),
    ],
)  # fmt: skip
def test_decimals_are_rounded_half_up_and_end_without_zeros(
    value: str, places: int, text: str
) -> None:
    assert plain_decimal(Fraction(value), places) == text
    assert plain_decimal(Decimal(value), places) == text


@pytest.mark.parametrize(
    ("nm", "text"),
    [
        (0, "0"), (INCH, "1"), (-INCH, "-1"), (396_875, "1/64"), (-396_875, "-1/64"),
        (INCH + INCH // 2, "1 1/2"), (-(2 * INCH + INCH // 4), "-2 1/4"), (3 * INCH // 8, "3/8"),
        (1, None), (396_876, None), (INCH // 5, None),
    ],
)  # fmt: skip
def test_inches_are_binary_fractions_down_to_a_64th(nm: int, text: str | None) -> None:
    assert inch_fraction(nm) == text


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    [
        (0, "mm", "0 mm"), (2 * METRE - 1, "mm", "2000 mm"), (2 * METRE - 10_000, "mm", "1999.99 mm"),
        (2 * METRE, "mm", "2 m"), (-2 * METRE, "mm", "-2 m"), (2_345_678_901, "mm", "2.35 m"),
        (12_345_000, "mm", "12.35 mm"), (12_344_999, "mm", "12.34 mm"), (-5 * MM, "mm", "-5 mm"),
        # An inch and a 64th; a tenth, 0.1 in; below an eighth a decimal more: 0.123456 → 0.1235.
        (INCH + 396_875, "in", "1 1/64 in"), (INCH // 10, "in", "0.1 in"),
        (3_135_782, "in", "0.1235 in"),
        # 0.125 in is 3 175 000 nm exactly; one nanometre more is 0.125 again, one less 0.1250.
        (3_175_000, "in", "1/8 in"), (3_175_001, "in", "0.125 in"), (3_180_000, "in", "0.125 in"),
        (3_170_000, "in", "0.1248 in"), (-3_170_000, "in", "-0.1248 in"),
        (-3_180_000, "in", "-0.125 in"), (3 * METRE, "in", "118.11 in"),
    ],
)  # fmt: skip
def test_lengths_are_shown_as_finely_as_they_are_measured(nm: int, unit: str, text: str) -> None:
    assert show_length(nm, unit) == text


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    [
        (1, "mm", "0.000001 mm"), (160 * MM, "mm", "160 mm"), (3 * METRE, "mm", "3000 mm"),
        (INCH // 2, "in", "1/2 in"), (INCH // 10, "in", "0.1 in"), (2_540, "in", "0.0001 in"),
        (INCH + 2_540, "in", "1.0001 in"),
        # Neither a 64th nor a ten-thousandth: in millimetres, exactly.
        (2_541, "in", "0.002541 mm"), (1_270, "in", "0.00127 mm"), (0, "in", "0 in"),
    ],
)  # fmt: skip
def test_lengths_in_fields_are_exact(nm: int, unit: str, text: str) -> None:
    assert type_length(nm, unit) == text


@pytest.mark.parametrize(
    ("nm", "unit", "measured"),
    [
        (0, "mm", 0), (1, "mm", 5 * MM), (5 * MM, "mm", 5 * MM), (5 * MM + 1, "mm", 10 * MM),
        (1, "in", INCH // 4), (INCH // 4, "in", INCH // 4), (INCH // 4 + 1, "in", INCH // 2),
    ],
)  # fmt: skip
def test_thread_is_measured_up_to_the_next_mark(nm: int, unit: str, measured: int) -> None:
    assert measured_up(nm, unit) == measured


def test_a_size_says_both_units_where_they_differ() -> None:
    assert show_size(160 * MM, 2 * METRE, "mm") == "160 mm × 2 m"
    assert show_size(3 * METRE, 2 * METRE, "mm") == "3 × 2 m"
    assert show_size(17 * INCH // 2, 11 * INCH, "in") == "8 1/2 × 11 in"


@pytest.mark.parametrize(
    ("style", "text", "shown"),
    [
        ("point", "1,234.5", "1,234.5"), ("comma", "1,234.5", "1.234,5"),
        ("space", "1,234,567.25", "1\u202f234\u202f567,25"), ("comma", "5 at 0.40", "5 at 0,40"),
        ("comma", "a, b. c", "a, b. c"),
    ],
    indirect=["style"],
)  # fmt: skip
def test_figures_are_written_as_the_shop_writes_them(style: str, text: str, shown: str) -> None:
    assert styled(text) == shown


@pytest.mark.parametrize(
    ("style", "typed", "number"),
    [
        # Thirty signs are read; a digit, a sign before it, a mark with digits after it.
        ("point", "9" * 30, "9" * 30), ("point", "7", "7"), ("point", "-7", "-7"),
        ("point", "+7.5", "7.5"), ("point", "-.5", "-0.5"), ("point", "−2", "-2"),
        # One mark before three digits, and before fewer or more.
        ("point", "100,000", "100000"), ("point", "1000,000", "1000"), ("point", "1,00", "1"),
        ("point", "1,0000", "1"), ("point", "0,000", "0"), ("comma", "12.345", "12345"),
        ("comma", "-12.34", "-12.34"), ("point", "-1.234,5", "-1234.5"),
        ("point", "-1,234,567", "-1234567"), ("point", "12,345,678.9", "12345678.9"),
        ("point", "1 234 567", "1234567"), ("space", "0,125", "0.125"), ("point", "-12", "-12"),
        ("point", "-1.250", "-1.25"), ("comma", "1,250", "1.25"), ("space", "1,250", "1.25"),
    ],
    indirect=["style"],
)  # fmt: skip
def test_a_number_that_means_one_thing_is_read(style: str, typed: str, number: str) -> None:
    assert read_number(typed) == Decimal(number)


@pytest.mark.parametrize(
    "typed",
    ["", "-", "1.", ",", "1..2", "9" * 31, "1,2,345", "1.2345,6", ".1,2", "1,234.567.8", "1234,567.8",
     "12,34,567", "--1", "1,,234", "0,123.4", ",123.4"],
)  # fmt: skip
def test_what_means_nothing_is_refused_as_it_was_typed(typed: str) -> None:
    with pytest.raises(DomainError, match="is not a number") as caught:
        read_number(typed)
    assert typed[:30] in caught.value.message


@pytest.mark.parametrize(
    ("style", "typed", "words"),
    [
        # 1.500 in a shop that writes 1 500,0: fifteen hundred, or one and a half.
        ("space", "1.500", "“1.500” can be read two ways: type 1500 for 1\u202f500, or 1,500 for 1,5."),
        ("space", "12.000",
         "“12.000” can be read two ways: type 12000 for 12\u202f000, or 12,000 for 12."),
    ],
    indirect=["style"],
)  # fmt: skip
def test_what_means_two_things_is_asked_back(style: str, typed: str, words: str) -> None:
    with pytest.raises(DomainError) as caught:
        read_number(typed)
    assert caught.value.message == words


@pytest.mark.parametrize(
    ("tag", "expected"),
    [("de-ch", "point"), ("fr_CH.UTF-8", "point"), ("es-MX", "point"), ("es", "comma"),
     ("nb_NO", "space"), ("ja_JP", "point"), ("pt_BR.UTF-8", "comma"), ("it", "comma")],
)  # fmt: skip
def test_a_language_has_its_usual_style(tag: str, expected: str) -> None:
    # Common practice, no source.
    assert style_of_language(tag) == expected

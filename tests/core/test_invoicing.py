"""The sums of an invoice against EN 16931's rules and published examples.

EN: the European standard's own examples and rules (github.com/ConnectingEurope/eInvoicing-EN16931,
copied by hand). PP: the examples and line rules of Peppol BIS Billing 3.0 (docs.peppol.eu).
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.invoicing import Part, Totals, line_net, net_of, totals
from app.core.money import CURRENCIES

D = Decimal
EUR = CURRENCIES["EUR"]


def check_rules(found: Totals, lines: list[Part], charges: list[Part]) -> None:
    """BR-CO-10, 11, 12, 13, 14, 15, 16, 17, BR-S-08 and BR-DEC (M1-M3)."""
    assert found.lines == sum((p.net for p in lines), D(0))
    assert found.allowances == sum((-p.net for p in charges if p.net < 0), D(0))
    assert found.charges == sum((p.net for p in charges if p.net > 0), D(0))
    assert found.net == found.lines - found.allowances + found.charges
    assert found.tax == sum((row.tax for row in found.taxes), D(0))
    assert found.gross == found.net + found.tax
    assert found.due == found.gross - found.paid + found.rounding
    for row in found.taxes:
        assert row.base == sum((p.net for p in [*lines, *charges] if p.rate == row.rate), D(0))
        assert abs(row.tax - row.base * row.rate) <= D("0.005")
        assert row.tax == row.tax.quantize(D("0.01"))
    assert len({row.rate for row in found.taxes}) == len(found.taxes)


def test_lines_with_charges_prices_by_two_and_a_payment() -> None:
    """M6: PP Allowance-example."""
    r25, r0 = D("0.25"), D(0)
    lines = [
        Part(line_net(410, 10, EUR, charges=D(1) - D(101)), r25),
        Part(line_net(200, 10, EUR, per=2), r0),
        Part(line_net(100, 10, EUR, charges=D(1) - D(101)), r25),
    ]
    assert [p.net for p in lines] == [4000, 1000, 900]
    charges = [Part(D(200), r25), Part(D(-200), r25)]
    found = totals(lines, EUR, charges=charges, paid=D(1000))
    assert found.net == 5900
    assert {row.rate: (row.base, row.tax) for row in found.taxes} == {
        r25: (4900, 1225),
        r0: (1000, 0),
    }
    assert (found.gross, found.due) == (7125, 6125)
    check_rules(found, lines, charges)


def test_two_rates_with_an_allowance_and_a_charge() -> None:
    """M7: PP Vat-category-S."""
    lines = [Part(D(4000), D("0.25")), Part(D(2000), D("0.15")), Part(D(900), D("0.25"))]
    charges = [Part(D(200), D("0.25")), Part(D(-100), D("0.25"))]
    found = totals(lines, EUR, charges=charges)
    assert (found.lines, found.net, found.gross) == (6900, 7000, 8550)
    assert [row.tax for row in found.taxes] == [1250, 300]
    check_rules(found, lines, charges)


def test_prices_of_five_decimals_and_by_the_dozen() -> None:
    """M8: EN tc434-example8."""
    asked = [
        ("0.00880", 16000, 1), ("0.00101", 16000, 1), ("15.24", 132, 12), ("1.53", 58, 1),
        ("441", 1, 12), ("678", 1, 12), ("83.34", 1, 1), ("190.31", 1, 1), ("64.21", 1, 1),
        ("64.46", 1, 1),
    ]  # fmt: skip
    nets = [line_net(D(price), quantity, EUR, per=per) for price, quantity, per in asked]
    assert nets[:6] == [D("140.80"), D("16.16"), D("167.64"), D("88.74"), D("36.75"), D("56.50")]
    found = totals([Part(net, D("0.21")) for net in nets], EUR)
    assert (found.net, found.tax, found.gross) == (D("908.91"), D("190.87"), D("1099.78"))


def test_two_bases_of_many_lines() -> None:
    """M9: EN tc434-example1 (its line 20 prints 6 for -6)."""
    found = totals([Part(D("183.23"), D("0.06")), Part(D("46.37"), D("0.21"))], EUR)
    assert [row.tax for row in found.taxes] == [D("10.99"), D("9.74")]
    assert (found.tax, found.gross) == (D("20.73"), D("250.33"))


def test_a_correction_is_below_zero() -> None:
    """M10: PP base-negative-inv-correction."""
    lines = [Part(line_net(400, -7, EUR), D("0.25")), Part(line_net(500, 3, EUR), D("0.25"))]
    found = totals(lines, EUR, charges=[Part(D(-25), D("0.25"))])
    assert (found.net, found.tax, found.gross) == (-1325, D("-331.25"), D("-1656.25"))


def test_tax_is_worked_out_by_rate_not_by_line() -> None:
    """M12: computed; by line it would be .84. D10: rules BR-CO-10, 16, 17."""
    found = totals([Part(D("1.02"), D("0.21"))] * 4, EUR)
    assert found.tax == D("0.86")


money = st.integers(0, 10**7).map(lambda cents: D(cents) / 100)
rates = st.sampled_from([D(0), D("0.055"), D("0.06"), D("0.19"), D("0.20"), D("0.21"), D("0.25")])


@given(st.lists(st.tuples(money, rates), min_size=1, max_size=8),
       st.lists(st.tuples(money, rates, st.booleans()), max_size=4), money)  # fmt: skip
def test_any_invoice_keeps_the_rules(
    rows: list[tuple[D, D]], more: list[tuple[D, D, bool]], paid: D
) -> None:
    lines = [Part(*row) for row in rows]
    charges = [Part(-net if off else net, rate) for net, rate, off in more]
    check_rules(totals(lines, EUR, charges=charges, paid=paid), lines, charges)


@given(st.lists(money, min_size=1, max_size=8), rates, st.sampled_from(["EUR", "JPY", "KWD"]))
def test_prices_with_tax_lead_back_to_what_was_agreed(gross: list[D], rate: D, code: str) -> None:
    currency = CURRENCIES[code]
    gross = [(amount * 100).scaleb(-currency.digits) for amount in gross]
    nets, rounding = net_of(gross, rate, currency)
    found = totals([Part(net, rate) for net in nets], currency, rounding=rounding)
    assert found.due == sum(gross, D(0))
    assert abs(rounding) <= currency.step
    for net, amount in zip(nets, gross, strict=True):
        # Less than a unit by its share, and its part of the half by which the sum was rounded.
        assert abs(net - amount / (1 + rate)) < currency.step * D("1.5")


def test_where_no_sum_has_just_this_tax_the_last_cent_is_a_rounding() -> None:
    """0.03 at 20%: 0.02 has no tax on it, 0.03 has 0.01 (computed)."""
    assert net_of([D("0.03")], D("0.2"), EUR) == ([D("0.03")], D("-0.01"))
    assert net_of([D("1.20"), D("2.40")], D("0.2"), EUR) == ([D(1), D(2)], D(0))


@pytest.mark.parametrize(("gross", "net"), [("77.00", "64.17"), ("12.00", "10.00")])
def test_one_line_is_split_as_the_order_page_splits_it(gross: str, net: str) -> None:
    assert net_of([D(gross)], D("0.2"), EUR)[0] == [D(net)]


def test_the_smallest_charge_and_allowance_count() -> None:
    found = totals([Part(D(9), D(0))], EUR, charges=[Part(D("0.01"), D(0)), Part(D("-0.5"), D(0))])
    assert (found.charges, found.allowances, found.net) == (D("0.01"), D("0.5"), D("8.51"))

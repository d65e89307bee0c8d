"""An invoice as data in its PDF: the XML of EN 16931 in the syntax of UN/CEFACT CII.

The XML is written by the factur-x library, which brings the published schemas it is checked by. It
is imported where it is used: half a second that no other page has to wait for.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from typing import Any

from app.core.countries import COUNTRIES
from app.core.errors import DomainError
from app.core.money import currency
from app.core.states import DocumentKind
from app.documents.customer_paper import TITLES, CustomerPaper, Party
from app.language import say, speaking

INVOICE, CREDIT_NOTE = "380", "381"
"""UNTDID 1001."""
POSTAGE = "FC"
"""UNTDID 7161: freight charges."""
PIECE = "C62"
"""UN/ECE Recommendation 20: one."""
MOST_DIGITS = 2
"""Decimals of an amount (BR-DEC)."""
GREEK, NORTHERN_IRISH = "EL", "XI"
"""Prefixes of VAT numbers that are no country of ISO 3166-1."""


def is_vat_number(text: str) -> bool:
    """Whether a tax number is a VAT identifier by EN 16931, BR-CO-9: it begins with a country."""
    return bool(re.fullmatch(r"[A-Z]{2}[0-9A-Z+*]{2,}", text)) and (
        text[:2] in COUNTRIES or text[:2] in (GREEK, NORTHERN_IRISH)
    )


def why_no_xml(paper: CustomerPaper) -> str:
    """Why a paper can bear no invoice data, in words; empty where it can."""
    if paper.kind == DocumentKind.QUOTE:
        return say("A quote is no invoice.")
    shop = paper.shop
    if currency(paper.currency).digits > MOST_DIGITS:
        return say(
            "EN 16931 knows no third decimal, which {currency} has.", currency=paper.currency
        )
    if not shop.country:
        return say("The shop's country is not known.")
    if not (shop.tax_number or shop.register_number):
        return say("The shop has neither a tax number nor a register number.")
    if paper.rate and not shop.tax_number:
        return say("The shop charges tax and has no tax number.")
    return ""


def invoice_xml(paper: CustomerPaper) -> bytes:
    """The invoice or credit note as XML, checked by its published schema."""
    reason = why_no_xml(paper)
    if reason:
        raise DomainError(say("No data can be put into it: {reason}", reason=reason))
    from facturx import generate_cii_xml

    with speaking(paper.spoken):
        terms = _terms(paper)
    xml: bytes = generate_cii_xml(terms, level="en16931", check_schematron=False)
    return xml


def with_xml(pdf: bytes, paper: CustomerPaper) -> bytes:
    """The PDF with the XML attached to it, as the two parts of one invoice."""
    from facturx import generate_from_binary

    with speaking(paper.spoken):
        words = {"title": paper.title, "author": paper.shop.name, "subject": paper.title,
                 "keywords": say("invoice")}  # fmt: skip
    found: bytes = generate_from_binary(
        pdf, invoice_xml(paper), flavor="factur-x", level="en16931", check_xsd=False,
        check_schematron=False, pdf_metadata=words, lang=paper.spoken,
    )  # fmt: skip
    return found


def _tax(paper: CustomerPaper) -> tuple[str, str]:
    """The category of UNTDID 5305, and why nothing is charged where nothing is."""
    if paper.rate:
        return "S", ""
    return ("E" if paper.shop.tax_number else "O"), paper.why_no_tax


def _terms(paper: CustomerPaper) -> dict[str, Any]:
    """The paper by the standard's business terms."""
    sums, (category, because) = paper.totals, _tax(paper)
    digits = currency(paper.currency).digits

    def money(amount: Decimal) -> str:
        # From the database amounts come with more decimals than the standard allows (BR-DEC).
        return f"{amount:.{digits}f}"

    rate = {} if category == "O" else {"vat_rate": _percent(paper)}
    lines = [
        {
            "BT-126": str(number),
            "BT-153": line.name,
            **({"BT-154": line.request} if line.request else {}),
            "BT-129": str(line.quantity), "BT-130": PIECE,
            # The net amount of a line for so many: its price leads back to it without rounding.
            "BT-146": money(line.net), "BT-149": str(line.quantity),
            "BT-131": money(line.net),
            "BT-151": category, **({} if category == "O" else {"BT-152": _percent(paper)}),
        }
        for number, line in enumerate(paper.lines, start=1)
    ]  # fmt: skip
    taxes = [
        {"BT-116": money(row.base), "BT-117": money(row.tax), "BT-118": category,
         **({} if category == "O" else {"BT-119": _percent(paper)}),
         **({"BT-120": because} if because else {})}
        for row in sums.taxes
    ]  # fmt: skip
    found: dict[str, Any] = {
        "BT-1": paper.title,
        "BT-2": paper.issued_on,
        "BT-3": CREDIT_NOTE if paper.kind == DocumentKind.CREDIT_NOTE else INVOICE,
        "BT-5": paper.currency,
        "BT-14": str(paper.order),
        "BG-4": _party(paper.shop, seller=True),
        "BG-7": _party(
            # Outside the scope of tax a buyer's number must not stand there (BR-O-2).
            replace(paper.customer, tax_number="") if category == "O" else paper.customer,
            seller=False,
        ),
        "BG-25": lines, "BG-23": taxes,
        "BT-106": money(sums.lines), "BT-108": money(sums.charges),
        "BT-109": money(sums.net), "BT-110": money(sums.tax), "BT-112": money(sums.gross),
        "BT-113": money(sums.paid), "BT-115": money(sums.due),
        "BT-20": _terms_of_payment(paper),
    }  # fmt: skip
    if paper.delivered_on is None:
        # Where it is not delivered yet, to whom it will be: the schema wants one of the two.
        customer = paper.customer
        found["BG-13"] = {"name": customer.name, "country_code": customer.country}
    if paper.postage_net:
        found["BG-21"] = [
            {"amount": money(paper.postage_net), "reason": say("Postage"), "reason_code": POSTAGE,
             "vat_category_code": category, **rate}
        ]  # fmt: skip
    optional = {
        "BT-9": paper.until, "BT-72": paper.delivered_on,
        "BT-114": money(paper.rounding) if paper.rounding else None,
    }  # fmt: skip
    found |= {term: value for term, value in optional.items() if value is not None}
    if paper.answers is not None:
        number, day = paper.answers
        invoice = say(TITLES[DocumentKind.INVOICE], number=number)
        found["BG-3"] = [{"BT-25": invoice, "BT-26": day}]
    return found


def _terms_of_payment(paper: CustomerPaper) -> str:
    if paper.kind == DocumentKind.CREDIT_NOTE:
        return say("This takes an invoice back: nothing is to be paid for it.")
    return paper.pay_how or say("To pay as agreed.")


def _party(party: Party, *, seller: bool) -> dict[str, Any]:
    """Who, where, and by which number; an address is kept in three lines at most."""
    first, second, *rest = (*party.address, "", "")
    number = party.tax_number
    vat = is_vat_number(number)
    found: dict[str, Any] = {
        "name": party.name, "country_code": party.country,
        "addr_l1": first, "addr_l2": second, "addr_l3": ", ".join(filter(None, rest)),
        "legal_identifier": party.register_number, "vat_identifier": number if vat else "",
    }  # fmt: skip
    if seller and number and not vat:
        found["tax_identifier"] = number
        if not party.register_number:
            # BR-CO-26 wants a number to know a seller by that is no local tax number.
            found["identifiers"] = {None: number}
    return {key: value for key, value in found.items() if value}


def _percent(paper: CustomerPaper) -> str:
    """A rate as exact as it is: two decimals at least."""
    exact = paper.rate * 100
    return f"{max(exact.normalize(), exact.quantize(Decimal('0.01')), key=_decimals):f}"


def _decimals(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return -exponent if isinstance(exponent, int) else 0

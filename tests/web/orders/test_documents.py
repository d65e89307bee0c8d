"""Papers for customers on screen: quotes, invoices, credit notes, receipts, packing slips."""

from __future__ import annotations

import contextvars
from io import BytesIO

import pdfplumber
from flask import Flask
from PIL import Image

from app.core.numbers import number_style
from tests.web.orders.test_ready import press
from tests.web.visitor import Visitor

FAR = "2030-01-01"


def text_of(pdf: bytes) -> str:
    with pdfplumber.open(BytesIO(pdf)) as found:
        return "\n".join(page.extract_text() for page in found.pages)


def fetched(visitor: Visitor, path: str) -> bytes:
    answer = visitor.client.get(path)
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf"), path
    return answer.data


def with_head(visitor: Visitor, **more: str) -> None:
    page = visitor.get("/shop/papers")
    values = {"address": "1 Quay\nMersea", "country": "gb", "tax_number": "GB 123 456 789",
              "pay_how": "Account 1234", "care": "Keep it dry."} | more  # fmt: skip
    visitor.send(page, "address", values)


def accepted(visitor: Visitor) -> str:
    press(visitor, visitor.get("/orders/1"), "Accept")
    return "/orders/1"


def test_a_quote_for_an_enquiry(stocked: Visitor) -> None:
    with_head(stocked)
    page = stocked.get("/orders/1/papers")
    quote = stocked.send(page, "until", {"until": FAR})
    assert "Quote 1 is written." in quote.said
    assert "Dear Ada," in "".join(quote.tree.itertext())
    text = text_of(fetched(stocked, "/orders/papers/1.pdf"))
    assert "Total €160.00" in text
    assert "€160.00" in quote.words
    assert "Holds until 1 January 2030" in text
    assert "Mersea" in text
    assert "Quote 1" in stocked.get("/orders/1").words
    assert "Write an invoice" not in page.words


def test_from_an_invoice_to_its_credit_note_and_another(stocked: Visitor) -> None:
    with_head(stocked)
    accepted(stocked)
    invoice = stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR})
    assert "Invoice 1" in invoice.words
    assert "Its PDF has the same figures inside as data" in invoice.words
    # Once is enough.
    assert not any(
        f.get("action", "").endswith("/invoice")
        for f in stocked.get("/orders/1/papers").all("form")
    )
    taken = stocked.send(invoice, "why", {"why": "wrong name"})
    assert "Credit note 1 takes invoice 1 back" in taken.said
    assert "wrong name" in text_of(fetched(stocked, "/orders/papers/2.pdf"))
    again = stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR})
    assert "Invoice 2" in again.words
    assert "Taken back by credit note 1" in stocked.get("/orders/papers/1").words


def test_the_head_keeps_what_is_wrong_and_says_so(visitor: Visitor) -> None:
    page = visitor.send(visitor.get("/shop/papers"), "address",
                        {"address": "Long Lane", "country": "ZZ"}, status=422)  # fmt: skip
    assert "“ZZ” is no country’s two letters" in page.words
    assert page.value("address").strip() == "Long Lane"
    page = visitor.send(page, "address", {"country": "fr", "pay_days": "400"}, status=422)
    page = visitor.send(page, "address", {"pay_days": "7"})
    assert page.value("country") == "FR"


def test_a_picture_is_taken_and_stripped(visitor: Visitor) -> None:
    form = visitor.get("/shop/papers").form("logo")
    picture = Image.new("RGB", (3000, 1500), "navy")
    exif = Image.Exif()
    exif[0x010E] = "where I live"
    raw = BytesIO()
    picture.save(raw, "JPEG", exif=exif)
    assert b"where I live" in raw.getvalue()
    data = {name: value for name, value in form.values if name != "logo"}
    sent = visitor.client.post(
        form.action, data=data | {"logo": (BytesIO(raw.getvalue()), "a.jpg")}
    )
    assert sent.status_code == 302
    kept = visitor.client.get("/shop/papers/logo.png").data
    assert b"where I live" not in kept
    assert Image.open(BytesIO(kept)).size == (1200, 600)
    form = visitor.get("/shop/papers").form("logo")
    data = {name: value for name, value in form.values if name != "logo"}
    wrong = visitor.client.post(form.action, data=data | {"logo": (BytesIO(b"<svg/>"), "a.png")})
    assert wrong.status_code == 422
    assert "This is no JPEG, PNG, WebP or GIF picture." in wrong.get_data(as_text=True)
    assert visitor.client.get("/shop/papers/logo.png").data == kept


def test_receipts_and_packing_slips(stocked: Visitor) -> None:
    with_head(stocked)
    accepted(stocked)
    stocked.send(stocked.get("/orders/1"), "amount", {"amount": "20", "how": "cash"})
    text = text_of(fetched(stocked, "/orders/1/payments/1.pdf"))
    assert "Receipt 1" in text
    assert "Paid so far €20.00" in text
    slip = text_of(fetched(stocked, "/orders/1/slip.pdf"))
    assert "Keep it dry." in slip
    assert "keep both from small children" in slip
    assert "€" not in slip
    assert stocked.client.get("/orders/2/payments/1.pdf").status_code == 404
    assert stocked.client.get("/orders/1/slip.pdf?delivery=99").status_code == 404


def test_papers_that_are_not_there(visitor: Visitor) -> None:
    for path in ("/orders/papers/1", "/orders/papers/1.pdf", "/orders/papers/1.xml",
                 "/orders/1/papers", "/orders/1/payments/1.pdf", "/orders/1/slip.pdf",
                 "/shop/papers/logo.png"):  # fmt: skip
        assert visitor.client.get(path).status_code == 404, path


def test_an_invoice_without_what_it_needs_is_refused(stocked: Visitor) -> None:
    accepted(stocked)
    page = stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR}, status=422)
    assert "An invoice needs the shop's address" in page.words
    assert page.value("until") == FAR
    with_head(stocked)
    page = stocked.send(page, "until", {"until": "2001-01-01"}, status=422)
    assert "It would be due before it is written." in page.words


def test_figures_on_paper_are_written_as_the_shop_writes_them(
    empty_app: Flask, stocked: Visitor
) -> None:
    with_head(stocked)
    accepted(stocked)
    stocked.send(stocked.get("/shop"), "currency", {"number_style": "comma"})
    stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR})
    # As after a restart, and on a thread that was asked for nothing else yet.
    number_style.set("point")
    found: list[str] = []
    fresh = contextvars.Context()
    fresh.run(
        lambda: found.append(text_of(empty_app.test_client().get("/orders/papers/1.pdf").data))
    )
    assert "€160,00" in found[0]


def test_a_paper_that_is_written_already_says_so_to_a_second_window(stocked: Visitor) -> None:
    with_head(stocked)
    accepted(stocked)
    page = stocked.get("/orders/1/papers")
    other = stocked.get("/orders/1/papers")
    invoice = stocked.send(page, "until", {"until": FAR})
    late = stocked.send(other, "until", {"until": FAR}, status=422)
    assert "Invoice 1 is written for this order already" in late.said
    second = stocked.get(invoice.path)
    stocked.send(invoice, "why", {"why": "wrong"})
    late = stocked.send(second, "why", {"why": "wrong"}, status=422)
    assert "was taken back already" in late.said


def test_an_order_that_changed_since_it_was_shown_is_not_invoiced_unseen(stocked: Visitor) -> None:
    with_head(stocked)
    shown = stocked.get("/orders/1/papers")
    change = stocked.get("/orders/1/change")
    stocked.send(change, "note", {"lines-0-unit_price": "99"})
    refused = stocked.send(shown, "until", {"until": FAR}, status=422)
    assert "changed in another window" in refused.words
    assert "€396.00 in all" in refused.words
    assert "Quote 1 is written" in stocked.send(refused, "until", {}).said


def test_a_quote_that_holds_is_not_passed_over_in_silence(stocked: Visitor) -> None:
    with_head(stocked)
    stocked.send(stocked.get("/shop"), "currency", {"tax": "20"})
    stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR})
    stocked.send(stocked.get("/orders/1/change"), "note", {"lines-0-unit_price": "50"})
    page = press(stocked, stocked.get("/orders/1"), "Accept")
    assert "Quote 1, which holds, says €160.00; accepted are €200.00." in page.said


def test_what_no_paper_can_hold_is_left_out_as_it_is_typed(stocked: Visitor) -> None:
    with_head(stocked, address="1 Quay\x02\nMer\ufffesea", pay_how="IBAN\x1f 1")
    accepted(stocked)
    invoice = stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR})
    assert "Mersea" in text_of(fetched(stocked, f"{invoice.path}.pdf"))
    assert stocked.client.get(f"{invoice.path}.xml").status_code == 200
    for wrong, words in (("x\n" * 11, "At most 10 lines"), ("y" * 81, "room for 80 characters")):
        page = stocked.send(stocked.get("/shop/papers"), "address", {"address": wrong}, status=422)
        assert words in page.words


def test_letters_that_will_not_print_are_said(stocked: Visitor) -> None:
    with_head(stocked)
    page = stocked.get("/orders/customers/1")
    stocked.send(page, "name", {"name": "王小明 עברית Ada"})
    words = stocked.get("/orders/1/papers").words
    assert "lack these, or would print them backwards: 王小明עברית" in words
    quote = stocked.send(stocked.get("/orders/1/papers"), "until", {"until": FAR})
    assert "come out as boxes or backwards: 王小明עברית" in quote.words


def test_the_first_save_of_the_head_does_not_wipe_out_another(visitor: Visitor) -> None:
    first, second = visitor.get("/shop/papers"), visitor.get("/shop/papers")
    visitor.send(first, "address", {"address": "1 Quay"})
    stale = visitor.send(second, "address", {"care": "dry"}, status=422)
    assert "Saved now: 1 Quay" in stale.words
    assert visitor.get("/shop/papers").value("address").strip() == "1 Quay"


def test_pictures_lie_as_they_were_taken_and_bad_ones_are_told_apart(visitor: Visitor) -> None:
    form = visitor.get("/shop/papers").form("logo")
    data = {name: value for name, value in form.values if name != "logo"}

    def sent(raw: bytes) -> str:
        answer = visitor.client.post(form.action, data=data | {"logo": (BytesIO(raw), "a.png")})
        return answer.get_data(as_text=True)

    exif = Image.Exif()
    exif[0x0112] = 6
    turned = BytesIO()
    Image.new("RGB", (400, 200), "navy").save(turned, "JPEG", exif=exif)
    sent(turned.getvalue())
    kept = visitor.client.get("/shop/papers/logo.png").data
    assert Image.open(BytesIO(kept)).size == (200, 400)
    large = BytesIO()
    Image.new("1", (9000, 9000)).save(large, "PNG")
    data["once"] = "anotherone"
    assert "too many pixels" in sent(large.getvalue())
    broken = BytesIO()
    Image.new("RGB", (50, 50), "navy").save(broken, "PNG")
    assert "This is no JPEG" in sent(broken.getvalue().replace(b"IDAT", b"IDQT"))

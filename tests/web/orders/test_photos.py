"""Pictures on the page of an order."""

from __future__ import annotations

from io import BytesIO

from tests.services.orders.test_photos import picture
from tests.web.visitor import Page, Visitor, read_form


def send(visitor: Visitor, raw: bytes, **more: str) -> Page:
    form = visitor.get("/orders/1").form("says")
    data = {name: value for name, value in form.values if name != "photo"} | more
    files = {"photo": (BytesIO(raw), "a.jpg")} if raw else {}
    answer = visitor.client.post(form.action, data=data | files, follow_redirects=True)
    return Page("/orders/1", answer.status_code, answer.get_data(as_text=True))


def test_a_picture_is_added_shown_and_taken_off(stocked: Visitor) -> None:
    refused = send(stocked, b"", says="the strap")
    assert "Choose a picture first." in refused.words
    assert refused.value("says") == "the strap"
    assert "no JPEG" in send(stocked, b"<svg/>").words
    page = send(stocked, picture(), says="the strap")
    assert "The picture is kept" in page.said
    [image] = [i for i in page.all("img") if "photos" in (i.get("src") or "")]
    assert image.get("alt") == "the strap"
    shown = stocked.client.get(str(image.get("src")))
    assert (shown.status_code, shown.mimetype) == (200, "image/jpeg")
    assert b"Camera" not in shown.data
    shown.close()
    assert stocked.client.get("/orders/1/photos/9.jpg").status_code == 404
    remove = next(f for f in stocked.get("/orders/1").all("form")
                  if (f.get("action") or "").endswith("/remove"))  # fmt: skip
    values = read_form(remove, "/orders/1").values
    page = stocked.post(str(remove.get("action")), values)
    assert "The picture is gone." in page.said
    assert stocked.client.get(str(image.get("src"))).status_code == 404

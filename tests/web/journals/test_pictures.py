"""Pictures of journals on their page, on lists, at the stall and on labels."""

from __future__ import annotations

import re
from io import BytesIO

from tests.services.designs.test_pictures import images
from tests.services.orders.test_photos import picture
from tests.web.visitor import Page, Visitor, read_form

HERE = "/journals/1/variants/1/pictures"


def send(visitor: Visitor, raw: bytes, says: str = "") -> Page:
    form = visitor.get(HERE).form("says")
    data = {name: value for name, value in form.values if name != "photo"} | {"says": says}
    files = {"photo": (BytesIO(raw), "a.jpg")} if raw else {}
    answer = visitor.client.post(HERE, data=data | files, follow_redirects=True)
    return Page(HERE, answer.status_code, answer.get_data(as_text=True))


def shown(page: Page, of: int) -> list[str]:
    found = [str(image.get("src")) for image in page.all("img")]
    return [src for src in found if src.startswith(f"/journals/pictures/{of}")]


def press(visitor: Visitor, action: str) -> Page:
    form = next(f for f in visitor.get(HERE).all("form") if f.get("action") == action)
    return visitor.post(action, read_form(form, HERE).values)


def test_a_picture_stands_wherever_the_journal_is_seen(guest: Visitor) -> None:
    assert "no picture yet" in guest.get(HERE).words
    assert "Choose a picture first." in send(guest, b"", "from above").words
    page = send(guest, picture(), "from above")
    assert "The picture is kept" in page.said
    assert shown(page, 1) == ["/journals/pictures/1.jpg"]
    for path in ("/journals", "/journals/1", "/stockroom", "/stockroom/items/variant-1",
                 "/markets/1/stall"):  # fmt: skip
        assert shown(guest.get(path), 1) == ["/journals/pictures/1-small.jpg"], path
    for end in (".jpg", "-small.jpg"):
        answer = guest.client.get(f"/journals/pictures/1{end}")
        assert (answer.status_code, answer.mimetype) == (200, "image/jpeg")
        assert b"Camera" not in answer.data
        answer.close()
    assert guest.client.get("/journals/2/variants/1/pictures").status_code == 404


def test_another_is_put_first_and_one_is_taken_off(guest: Visitor) -> None:
    send(guest, picture("navy"), "navy")
    send(guest, picture("teal"), "teal")
    page = press(guest, "/journals/pictures/2/first")
    assert "stands for the journal" in page.said
    assert [image.get("alt") for image in page.all("img")] == ["teal", "navy"]
    page = press(guest, "/journals/pictures/1/remove")
    assert "The picture is gone." in page.said
    assert guest.client.get("/journals/pictures/1.jpg").status_code == 404
    # What stood second stands for the journal now.
    assert shown(guest.get("/journals"), 2) == ["/journals/pictures/2-small.jpg"]


def test_labels_show_it_where_the_maker_says_so(guest: Visitor) -> None:
    send(guest, picture())
    market = next(
        str(number) for number in range(1, 9)
        if shown(guest.get(f"/markets/{number}/stall"), 1)
    )  # fmt: skip
    labels = f"/markets/{market}/papers/labels.pdf"
    assert images(guest.client.get(labels).data) == 0
    page = guest.get(f"/markets/{market}/papers")
    page = guest.send(page, "origin", {"+shows_picture": "y"})
    assert shown(page, 1) == ["/journals/pictures/1-small.jpg"]
    assert images(guest.client.get(labels).data) > 0


def test_journals_are_drawn_to_one_scale_and_compared_from_the_list(guest: Visitor) -> None:
    page = guest.get("/journals")
    drawn = re.findall(r'<svg class="small-drawing"[^>]*>', page.text)
    assert drawn
    assert all('aria-hidden="true"' in svg for svg in drawn)
    ticks = [box for box in page.all("input") if box.get("name") == "with"]
    assert len(ticks) == len(page.all("tr")) - 1
    asked = "&".join(f"with={box.get('value')}" for box in ticks[:2])
    side = guest.get(f"/journals/compare?{asked}")
    assert len([h for h in side.all("th") if h.get("scope") == "col"]) == 2


def test_a_stale_window_takes_no_other_picture_off(guest: Visitor) -> None:
    send(guest, picture("navy"), "navy")
    send(guest, picture("teal"), "teal")
    stale = next(f for f in guest.get(HERE).all("form")
                 if f.get("action") == "/journals/pictures/2/remove")  # fmt: skip
    values = read_form(stale, HERE).values
    press(guest, "/journals/pictures/2/first")
    page = guest.post("/journals/pictures/2/remove", values)
    assert "changed places in another window" in page.said
    assert [image.get("alt") for image in page.all("img")] == ["teal", "navy"]

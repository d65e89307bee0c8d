"""What is printed for a stall: labels and tags, the price list, the tally sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import show_length
from app.core.money import currency
from app.core.selling.labels import SHEETS
from app.dates import whole_day
from app.documents.labels import Label, labels_pdf
from app.documents.letter import Letter, letter_pdf
from app.documents.tally_sheet import TallyRow, tally_pdf
from app.language import say
from app.models import LabelWords, Market, MarketLine, Variant, VariantPicture
from app.services.designs.journals import choices_of, load_whole
from app.services.designs.pictures import first_pictures
from app.services.markets.stall import listed, price_at
from app.services.shop.letterhead import letterhead, lines_of
from app.services.shop.pictures import picture_bytes
from app.services.shop.settings import check_version, the_shop

MOST_LABELS = 2_000


def label_words(session: Session) -> LabelWords:
    """The row; where nothing was typed yet one with a sheet of the shop's paper."""
    found = session.get(LabelWords, 1)
    if found is None:
        page = the_shop(session).print_paper
        sheet = next(name for name, one in SHEETS.items() if one.page == page)
        found = LabelWords(
            id=1, sheet=sheet, says_made_of=False, says_address=False, shows_picture=False,
            origin="", care="", small_parts="", more="",
        )  # fmt: skip
    return found


def save_label_words(
    session: Session, values: Mapping[str, Any], version: int | None = None
) -> LabelWords:
    """Keep what stands on labels from now on."""
    row = label_words(session)
    if row.version is not None:
        check_version(row, version)
    if values["sheet"] not in SHEETS:
        raise DomainError(say("There is no such sheet of labels."), "sheet")
    for key, value in values.items():
        setattr(row, key, value)
    session.add(row)
    session.flush()
    return row


def made_of(variant: Variant) -> str:
    """What a journal is made of, by the names of its papers and materials."""
    named = []
    for choice in choices_of(variant).values():
        if choice is not None:
            named.append(choice.name)
    return ", ".join(dict.fromkeys(named))


def label_of(session: Session, market: Market, variant: Variant) -> Label:
    """What stands on the label of a journal at a market."""
    shop, words, head = the_shop(session), label_words(session), letterhead(session)
    price = price_at(market, variant)
    dims = variant.design.dimensions
    lines = []
    if "leaf_width" in dims and "leaf_height" in dims:
        wide, high = (show_length(int(dims[f"leaf_{k}"]), shop.unit) for k in ("width", "height"))
        lines.append(say("Page {width} × {height}", width=wide, height=high))
    if words.says_made_of and (of := made_of(variant)):
        lines.append(of)
    lines += [line for text in (words.origin, words.care, words.small_parts, words.more)
              for line in lines_of(text)]  # fmt: skip
    if words.says_address:
        lines += [", ".join([shop.name, *lines_of(head.address)]), *lines_of(head.contact)]
    elif shop.name:
        lines.append(shop.name)
    asked = "" if price is None else currency(shop.currency).show(price)
    return Label(variant.full_name, asked, tuple(lines))


def label_pictures(session: Session, lines: Iterable[MarketLine]) -> dict[int, VariantPicture]:
    """By variant the pictures that stand on labels, where labels show them."""
    if not label_words(session).shows_picture:
        return {}
    return first_pictures(session, [line.variant for line in lines])


def with_picture(label: Label, photos: Path, picture: VariantPicture | None) -> Label:
    """The label with a picture on it, where there is one."""
    return (
        label if picture is None else replace(label, picture=picture_bytes(photos, picture.small))
    )


def labels_for(
    session: Session, market: Market, photos: Path, start: int = 1, *, packed: bool = False,
    outlined: bool = False,
) -> bytes:  # fmt: skip
    """A label for each journal of the list, or for each that is in the boxes."""
    lines = listed(session, market)
    load_whole(session, [line.variant for line in lines])
    wanted: list[Label] = []
    pictures = label_pictures(session, lines)
    for line in lines:
        plain = label_of(session, market, line.variant)
        label = with_picture(plain, photos, pictures.get(line.variant_id))
        wanted += [label] * (line.packed if packed else line.take)
    if not wanted:
        raise DomainError(
            say("Nothing is packed yet.") if packed else say("Nothing is on the list yet.")
        )
    if len(wanted) > MOST_LABELS:
        raise DomainError(
            say(
                "{most} labels at a time; these are {number}.", most=MOST_LABELS, number=len(wanted)
            )
        )
    return labels_pdf(SHEETS[label_words(session).sheet], wanted, start, outlined=outlined)


def price_list(session: Session, market: Market) -> bytes:
    """What is for sale and for how much, to lay on the table; what has no price is left out."""
    shop, head = the_shop(session), letterhead(session)
    money = currency(shop.currency)
    rows = []
    for line in listed(session, market):
        price = price_at(market, line.variant)
        if price is not None and line.take:
            label = label_of(session, market, line.variant)
            rows.append(((label.name, label.lines[0] if label.lines else ""), money.show(price)))
    care = tuple(lines_of(label_words(session).small_parts))
    return letter_pdf(
        Letter(
            title=say("Prices"), sender=tuple(filter(None, (shop.name, *lines_of(head.contact)))),
            recipient=(), facts=((market.name, market.place),),
            heads=(say("Journal"), say("Price")), rows=tuple(rows), figures=frozenset({1}), sums=(),
            below=(("", care),) if care else (), foot=(), logo=head.logo,
        ),
        shop.print_paper,
    )  # fmt: skip


def tally_sheet(session: Session, market: Market) -> bytes:
    """The stall's sheet for a day without a phone."""
    shop = the_shop(session)
    money = currency(shop.currency)

    def row(line: MarketLine) -> TallyRow:
        price = price_at(market, line.variant)
        shown = "" if price is None else money.show(price)
        return TallyRow(line.variant.full_name, shown, line.packed or line.take)

    days = whole_day(market.day)
    if market.last_day:
        days = say("{first} to {last}", first=days, last=whole_day(market.last_day))
    rows = [row(line) for line in listed(session, market) if line.take]
    return tally_pdf(f"{market.name}, {days}", rows, shop.print_paper)

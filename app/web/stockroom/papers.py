"""Papers and the sheets they are bought in."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from flask import Blueprint, abort, flash, render_template, url_for
from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.core.length import MM, plain_decimal
from app.core.numbers import read_number, styled
from app.core.paper import BASIC_SIZES, grammage_from_pounds, named_sizes, usual_caliper
from app.core.states import SheetKind
from app.language import say, to_say
from app.models import Paper, StockSheet
from app.services.stock import materials as service
from app.services.stock.ledger import item_key
from app.units import parse_size
from app.web.frame.fields import (
    Between,
    Form,
    LengthField,
    Needed,
    PercentField,
    QuantityField,
    TypedField,
    choice_field,
    note_field,
    offered,
    text_field,
    typed_version,
)
from app.web.frame.filters import length, size
from app.web.frame.session import db, need, typing
from app.web.frame.submission import submit
from app.web.stockroom.goods import SoldForm, put_away_or_back

pages = Blueprint("papers", __name__, url_prefix="/stockroom/papers")

GRAIN_CHOICES = (
    ("?", to_say("– say which –")),
    ("height", to_say("along the height")),
    ("width", to_say("along the width")),
    ("", to_say("none, or it does not matter")),
)

WHICH_WAY = to_say("Say which way the grain runs, or that there is none.")

KIND_CHOICES = (
    (SheetKind.SHEET.value, to_say("by the sheet")),
    (SheetKind.ROLL.value, to_say("off a roll, by length")),
    (SheetKind.HIDE.value, to_say("by the hide")),
)


class GrammageField(TypedField):
    """Grams per square metre, or pounds to the ream together with ``basis``."""

    def read(self, text: str) -> tuple[Decimal, bool]:
        """The number and whether it is pounds."""
        plain = text.lower().replace("g/m²", "").replace("gsm", "").removesuffix("g").strip()
        pounds = any(plain.endswith(mark) for mark in ("lb", "lbs", "#"))
        typing()
        number = read_number(plain.rstrip("lbs#").strip())
        if not 1 <= number <= 5000:
            raise DomainError(say("A paper weighs between 1 and 5000 g/m²."))
        return number, pounds

    def write(self, value: Any) -> str:
        number, pounds = value if isinstance(value, tuple) else (value, False)
        return styled(plain_decimal(number, 2)) + (" lb" if pounds else "")


class PaperForm(Form):
    """A kind of sheet stock."""

    version = HiddenField()
    name = text_field(
        to_say("Name"), needed=True, description=to_say("As you say it at the bench.")
    )
    grammage = GrammageField(
        to_say("Weight"),
        [Needed()],
        description=to_say("300 for grams a square metre, or 140 lb."),
    )
    basis = choice_field(to_say("Pounds refer to"), [])
    caliper_nm = LengthField(
        to_say("Thickness of one sheet"), [Needed(), Between(1000, 20 * MM, length)],
        description=to_say(
            "Measure ten together and divide. About 0.10 mm for 80 g text, 0.19 for "
            "150 g cartridge, 0.28 to 0.40 for card, 0.45 to 0.60 for 300 g watercolour."
        ),
    )  # fmt: skip
    colour = text_field(to_say("Colour"))
    finish = text_field(to_say("Surface"))
    note = note_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = (
            (k, f"{say(k)}, {plain_decimal(w, 1)} × {plain_decimal(h, 1)} in")
            for k, (w, h) in BASIC_SIZES.items()
        )
        self.basis.choices = offered([("", say("– only where the weight is in pounds –")), *known])

    def paper(self) -> dict[str, Any]:
        """The paper's own values."""
        same = {k: self[k].data for k in ("name", "caliper_nm", "colour", "finish", "note")}
        return same | {"grammage": self.grams()}

    def grams(self) -> Decimal:
        """The weight in grams per square metre, to a hundredth; blames ``basis``."""
        number, pounds = self.grammage.data
        if not pounds:
            return _hundredth(Fraction(number))
        if not self.basis.data:
            raise DomainError(say("Say which basic size the pounds refer to."), "basis")
        return _hundredth(grammage_from_pounds(Fraction(number), *BASIC_SIZES[self.basis.data]))


class SizeField(TypedField):
    """A sheet's size: its two sides, or its name."""

    def read(self, text: str) -> tuple[int, int]:
        names = {name.casefold(): sides for name, sides in named_sizes().items()}
        return names.get(text.casefold()) or parse_size(text, typing().unit)


class NewPaperForm(PaperForm, SoldForm):
    """A paper with the first sheet it is bought in and who sells it; only the paper is needed."""

    caliper_nm = LengthField(
        to_say("Thickness of one sheet"), [Between(1000, 20 * MM, length)],
        description=to_say(
            "Measure ten together and divide. Left empty, what a paper of that weight "
            "usually has is taken until you measure it."
        ),
    )  # fmt: skip
    sheet_size = SizeField(
        to_say("Size of a sheet"),
        description=to_say("640 x 900, 22 x 30 in, or by name: SRA2, Imperial."),
    )
    grain = choice_field(
        to_say("Grain runs"), GRAIN_CHOICES,
        description=to_say(
            "Tear a strip each way, or damp a corner: it curls across the grain."
        ),
    )  # fmt: skip
    pack_quantity = QuantityField(
        to_say("A pack holds, sheets"), description=to_say("Empty for one.")
    )

    def paper(self) -> dict[str, Any]:
        """Its thickness by its weight where it was not measured."""
        values = super().paper()
        usual = usual_caliper(Fraction(values["grammage"]))
        return values | {"caliper_nm": values["caliper_nm"] or usual}

    def first_sheet(self) -> dict[str, Any] | None:
        """The first size, where one was typed; blames what would be said of none."""
        said = (self.sold_by.data, self.pack_price.data, self.pack_quantity.data)
        if self.sheet_size.data is None:
            if any(one not in (None, "") for one in said):
                raise DomainError(
                    say("Which size is sold there? Type it as 640 x 900."), "sheet_size"
                )
            if self.grain.data != "?":
                raise DomainError(say("Of which size? Type it as 640 x 900."), "sheet_size")
            return None
        if self.grain.data == "?":
            raise DomainError(say(WHICH_WAY), "grain")
        width, height = self.sheet_size.data
        return {
            "kind": SheetKind.SHEET, "width_nm": width, "height_nm": height,
            "grain": self.grain.data or None, "pattern_up": False, "trim_nm": 0, "retired": False,
        }  # fmt: skip


def _hundredth(value: Fraction) -> Decimal:
    return Decimal(plain_decimal(value, 2))


class SheetForm(Form):
    """One size a paper is bought in."""

    version = HiddenField()
    kind = choice_field(to_say("It is bought"), KIND_CHOICES)
    named = choice_field(to_say("Size by name"), [])
    width_nm = LengthField(
        to_say("Width"), [Between(MM, 10_000 * MM, length)],
        description=to_say("Of a roll its width; of a hide that of the largest piece it gives."),
    )  # fmt: skip
    height_nm = LengthField(
        to_say("Height"), [Between(MM, 10_000 * MM, length)],
        description=to_say("Of a roll none; of a hide that of the largest piece."),
    )  # fmt: skip
    hide_area = QuantityField(to_say("All of a hide is"), measure="area")
    usable = PercentField(
        to_say("Of it can be used"),
        description=to_say("Two thirds to three quarters, of a poor skin half."),
    )
    grain = choice_field(
        to_say("Grain runs"), GRAIN_CHOICES,
        description=to_say(
            "Tear a strip each way, or damp a corner: it curls across the grain. A roll’s "
            "height is its length, along which cloth has its warp."
        ),
    )  # fmt: skip
    pattern_up = BooleanField(to_say("A pattern fixes which way is up: never turn a piece"))
    trim_nm = LengthField(
        to_say("Trimmed off every edge"), [Needed(), Between(0, 200 * MM, length)],
        description=to_say("Deckles and knocked corners; zero for none."),
    )  # fmt: skip
    retired = BooleanField(to_say("No longer bought"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = ((name, f"{name}, {size(*sides)}") for name, sides in named_sizes().items())
        self.named.choices = offered([("", say("– as typed below –")), *known])

    def grain_side(self) -> str | None:
        """The side the fibres run along, None for no grain."""
        if self.grain.data == "?":
            raise DomainError(say(WHICH_WAY), "grain")
        side: str = self.grain.data
        return side or None

    def sides(self) -> tuple[int, int]:
        """Width and height, by name or as typed; a roll has a width only."""
        if self.kind.data == SheetKind.ROLL:
            if self.named.data:
                raise DomainError(say("A roll has no sheet’s name: leave this empty."), "named")
            if self.height_nm.data:
                raise DomainError(say("A roll has no height: leave this empty."), "height_nm")
            if self.width_nm.data is None:
                raise DomainError(say("How wide is the roll?"), "width_nm")
            return self.width_nm.data, 1
        if self.named.data:
            return named_sizes()[self.named.data]
        for field in (self.width_nm, self.height_nm):
            if field.data is None:
                raise DomainError(say("Type a length, or pick a size by name."), field.name)
        return self.width_nm.data, self.height_nm.data

    def hide(self) -> dict[str, Any]:
        """What only a hide has; nothing of it may be typed for anything else."""
        fields = (self.hide_area, self.usable)
        if self.kind.data == SheetKind.HIDE:
            for field in fields:
                if not field.data:
                    raise DomainError(say("A hide needs this."), field.name)
            return {field.name: field.data for field in fields}
        for field in fields:
            if field.data is not None:
                raise DomainError(say("Only a hide has this: leave it empty."), field.name)
        return {}


@pages.route("/new", methods=["GET", "POST"])
@pages.route("/<int:paper_id>", methods=["GET", "POST"])
def one(paper_id: int | None = None) -> Any:
    """Add a paper, or look at one with its sheets and change it."""
    if paper_id is None:
        return _add()
    paper = need(Paper, paper_id)
    form = PaperForm(obj=paper)

    def save() -> str:
        service.save_paper(db(), paper, form.paper(), typed_version(form.version.data))
        flash(say("Saved."))
        return url_for("papers.one", paper_id=paper_id)

    if done := submit(form, save, now=lambda: PaperForm(formdata=None, obj=paper)):
        return done
    page = render_template("stockroom/paper.html", form=form, paper=paper)
    return page, 422 if form.is_submitted() else 200


def _add() -> Any:
    """A new paper, with its first sheet and offer where they were typed."""
    form = NewPaperForm()

    def save() -> str:
        first = form.first_sheet()
        saved = service.save_paper(db(), None, form.paper())
        sentences = [say("{name} is on the list.", name=saved.name)]
        if not form.caliper_nm.data:
            thick = length(saved.caliper_nm)
            sentences.append(
                say("Until you measure it, {thick} is taken for its thickness.", thick=thick)
            )
        if first is None:
            flash(" ".join([*sentences, say("Now the sizes it is bought in.")]))
            return url_for("papers.sheet", paper_id=saved.id)
        sheet = service.save_stock_sheet(db(), saved, None, first)
        if offer := form.offer_of(sheet):
            sentences.append(offer)
        flash(" ".join(sentences))
        return url_for("stockroom.page")

    if done := submit(form, save):
        return done
    page = render_template(
        "stockroom/paper.html", form=form, paper=None, sellers=service.suppliers(db())
    )
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:paper_id>/away")
def put_away(paper_id: int) -> Any:
    """Take a paper off the lists, or put it back."""
    return put_away_or_back(need(Paper, paper_id), url_for("papers.one", paper_id=paper_id))


@pages.route("/<int:paper_id>/sheets/new", methods=["GET", "POST"])
@pages.route("/<int:paper_id>/sheets/<int:sheet_id>", methods=["GET", "POST"])
def sheet(paper_id: int, sheet_id: int | None = None) -> Any:
    """Add a size to a paper or change one."""
    paper = need(Paper, paper_id)
    known = need(StockSheet, sheet_id) if sheet_id is not None else None
    if known is not None and known.paper is not paper:
        abort(404)
    form = SheetForm(data=_start(known))

    def save() -> str:
        width, height = form.sides()
        values = {
            "kind": SheetKind(form.kind.data), "width_nm": width, "height_nm": height,
            "grain": form.grain_side(), **form.hide(),
            "pattern_up": form.pattern_up.data, "trim_nm": form.trim_nm.data,
            "retired": form.retired.data,
        }  # fmt: skip
        version = typed_version(form.version.data)
        saved = service.save_stock_sheet(db(), paper, known, values, version)
        sold = saved.offers or saved.retired
        flash(say("Saved.") if sold else say("Saved. Now who sells it, and for how much?"))
        return url_for("stockroom.item", key=item_key(saved))

    if done := submit(form, save, now=lambda: SheetForm(formdata=None, data=_start(known))):
        return done
    page = render_template("stockroom/sheet.html", form=form, paper=paper, sheet=known)
    return page, 422 if form.is_submitted() else 200


def _start(sheet: StockSheet | None) -> dict[str, Any]:
    """A sheet as its form begins."""
    if sheet is None:
        return {"trim_nm": 0}
    keys = (
        "kind",
        "width_nm",
        "hide_area",
        "usable",
        "pattern_up",
        "trim_nm",
        "retired",
        "version",
    )
    height = None if sheet.by_length else sheet.reach_nm or sheet.height_nm
    same = {key: getattr(sheet, key) for key in keys}
    return same | {"height_nm": height, "grain": sheet.grain or ""}

"""The shop's settings: what an hour costs, how channels take their share, how long work takes."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from flask import Blueprint, abort, flash, render_template, request, url_for
from wtforms import BooleanField, HiddenField

from app.core.ledger import VALUATIONS
from app.core.length import MM
from app.core.money import CURRENCIES
from app.core.numbers import STYLES
from app.language import LANGUAGES, say, to_say
from app.models import Channel, PostageBand
from app.models.shop import WEEKDAYS
from app.services.designs import postage as posting
from app.services.shop import settings as service
from app.web.frame.fields import (
    Between,
    Form,
    GramsField,
    HoursField,
    LengthField,
    MinutesField,
    MoneyField,
    Needed,
    PercentField,
    WholeField,
    choice_field,
    text_field,
    typed_version,
)
from app.web.frame.filters import length
from app.web.frame.session import db, need, shop, type_as
from app.web.frame.submission import submit

pages = Blueprint("settings", __name__, url_prefix="/shop")

POINTS = (
    ("any", to_say("any amount")),
    ("half", to_say("whole or a half")),
    ("whole", to_say("whole")),
    ("95", to_say("ending .95")),
    ("99", to_say("ending .99")),
)


class SettingsForm(Form):
    """All of the shop's own figures; bench time by weekday."""

    version = HiddenField()
    name = text_field(to_say("Name of the shop"), needed=True)
    currency = choice_field(
        to_say("Currency"), [(c, f"{c} ({m.sign.strip()})") for c, m in CURRENCIES.items()]
    )
    unit = choice_field(
        to_say("Lengths in"), [("mm", to_say("millimetres")), ("in", to_say("inches"))]
    )
    language = choice_field(to_say("Language"), LANGUAGES.items())
    number_style = choice_field(
        to_say("Numbers look like"),
        STYLES.items(),
        description=to_say("How you type and read them everywhere."),
    )
    pay_per_hour = MoneyField(to_say("Your pay for an hour"), [Needed()])
    overhead_a_year = MoneyField(
        to_say("Overhead in a year"),
        [Needed()],
        description=to_say("Rent, tools, insurance, the website."),
    )
    bench_hours_a_year = WholeField(
        to_say("Bench hours in a year"), [Needed()], least=1, most=8784, words=("h", "hour"),
        description=to_say("Overhead is shared over these hours."),
    )  # fmt: skip
    allowance = PercentField(
        to_say("Allowance on working time"), [Needed()],
        description=to_say("For tea, thread that knots and the post."),
    )  # fmt: skip
    spoilage = PercentField(to_say("Pieces of paper expected to spoil"), [Needed()], most=50)
    tax = PercentField(
        to_say("Tax included in prices"), [Needed()],
        description=to_say("Zero if you do not charge it. Local tax law decides; ask an adviser."),
    )  # fmt: skip
    kerf_nm = LengthField(
        to_say("Lost in each cut"), [Needed(), Between(0, 20 * MM, length)],
        description=to_say("Zero for a blade; a saw eats some."),
    )  # fmt: skip
    longest_cut_nm = LengthField(
        to_say("Longest cut your cutter makes"), [Between(10 * MM, 10_000 * MM, length)],
        description=to_say("Leave empty for a knife and a straightedge, which cut any length."),
    )  # fmt: skip
    sheets_a_stroke = WholeField(
        to_say("Sheets cut in one stroke"), [Needed()], least=1, most=1000,
        description=to_say("A knife cuts one or two, a guillotine a lift."),
    )  # fmt: skip
    offcut_short_nm = LengthField(
        to_say("Keep offcuts this wide or wider"), [Needed(), Between(MM, 5000 * MM, length)]
    )
    offcut_long_nm = LengthField(
        to_say("and this long or longer"), [Needed(), Between(MM, 5000 * MM, length)]
    )
    valuation = choice_field(
        to_say("What leaves the stock costs"), VALUATIONS,
        description=to_say("Both are allowed by IAS 2; keep to one from year to year."),
    )  # fmt: skip
    offcut_worth = PercentField(
        to_say("An offcut is worth, of its share of the sheet"), [Needed()], most=100
    )
    order_cost = MoneyField(
        to_say("Placing an order costs"),
        [Needed()],
        description=to_say("Your time and the post, per order."),
    )
    holding_rate = PercentField(
        to_say("Keeping stock for a year costs, of its price"), [Needed()], most=100
    )
    service_level = PercentField(
        to_say("In-stock target"), [Needed()], most=99,
        description=to_say("Between 50 and 99: more asks for more safety stock."),
    )  # fmt: skip
    packing_grams = GramsField(
        to_say("Packing weighs, in grams"), [Needed(), Between(0, 10_000)],
        description=to_say("Card, wrapping and label of one parcel."),
    )  # fmt: skip
    packing_nm = LengthField(
        to_say("Packing adds on each side"), [Needed(), Between(0, 200 * MM, length)]
    )
    batch_size = WholeField(to_say("Made together as a rule"), [Needed()], least=1, most=1000)
    print_paper = choice_field(
        to_say("Paper in the printer"), [("A4", "A4"), ("Letter", to_say("Letter"))]
    )
    week_begins = choice_field(
        to_say("The week begins on"),
        [(0, to_say("Monday")), (5, to_say("Saturday")), (6, to_say("Sunday"))], coerce=int,
    )  # fmt: skip
    monday = MinutesField(to_say("Monday"), [Needed()])
    tuesday = MinutesField(to_say("Tuesday"), [Needed()])
    wednesday = MinutesField(to_say("Wednesday"), [Needed()])
    thursday = MinutesField(to_say("Thursday"), [Needed()])
    friday = MinutesField(to_say("Friday"), [Needed()])
    saturday = MinutesField(to_say("Saturday"), [Needed()])
    sunday = MinutesField(to_say("Sunday"), [Needed()])

    def validate(self, extra_validators: Any = None) -> bool:
        """Bench minutes are whole and fit into a day."""
        good: bool = super().validate(extra_validators)
        if self.service_level.data is not None and self.service_level.data < Decimal("0.5"):
            wrong = say("Between 50 and 99 per cent.")
            self.service_level.errors = [*self.service_level.errors, wrong]
            good = False
        for day in WEEKDAYS:
            field = self[day]
            if field.data is not None and not 0 <= field.data <= 1440:
                field.errors = [*field.errors, say("A day has 1440 minutes.")]
                good = False
            elif field.data is not None and field.data != int(field.data):
                field.errors = [*field.errors, say("Whole minutes, please: no parts of one.")]
                good = False
        return good


class ChannelForm(Form):
    """What a way of selling takes, and the margin wanted from it."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    fee_rate = PercentField(to_say("Fee, of what the customer pays"), [Needed()])
    fixed_fee = MoneyField(to_say("Fee for each sale"), [Needed()])
    margin = PercentField(to_say("Margin wanted, of the price before tax"), [Needed()], most=99)
    price_point = choice_field(to_say("Prices end on"), POINTS)
    wholesale = BooleanField(to_say("Wholesale: prices before tax"))
    retired = BooleanField(to_say("No longer used"))


class BandForm(Form):
    """What a carrier asks up to a weight and a size."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    most_grams = GramsField(to_say("Up to, in grams"), [Needed(), Between(1, 100_000)])
    long_nm = LengthField(to_say("Longest side up to"), [Needed(), Between(MM, 5000 * MM, length)])
    wide_nm = LengthField(to_say("Second side up to"), [Needed(), Between(MM, 5000 * MM, length)])
    thick_nm = LengthField(to_say("Thickness up to"), [Needed(), Between(MM, 5000 * MM, length)])
    price = MoneyField(to_say("Postage"), [Needed()])
    retired = BooleanField(to_say("No longer used"))


class TimeForm(Form):
    """Minutes of one operation."""

    version = HiddenField()
    setup_minutes = MinutesField(to_say("Setting up, for a batch"), [Needed()])
    minutes_each = MinutesField(to_say("Each"), [Needed()])
    waiting_hours = HoursField(
        to_say("Hours it waits afterwards"), [Needed()],
        description=to_say("Pressing or drying: no pay, but it counts in dates. Zero for none."),
    )  # fmt: skip


@pages.get("")
def page() -> str:
    """Settings as they are, with channels and times."""
    form = SettingsForm(obj=shop())
    return _page(form)


def _page(form: SettingsForm) -> str:
    return render_template(
        "shop/settings.html",
        form=form,
        week=[form[WEEKDAYS[(shop().week_begins + n) % 7]] for n in range(7)],
        channels=service.channels(db(), retired=True),
        bands=posting.bands(db(), retired=True),
        times=service.operation_times(db()).values(),
    )


@pages.post("")
def change() -> Any:
    """Save the settings."""
    _read_as_typed()
    form = SettingsForm()

    def save() -> str:
        values = form.values()
        values |= {day: int(values[day]) for day in WEEKDAYS}
        service.change_settings(db(), values, typed_version(form.version.data))
        flash(say("Saved. Prices already agreed stay as they were."))
        return url_for("settings.page")

    done = submit(form, save, now=lambda: SettingsForm(formdata=None, obj=shop()))
    return done or (_page(form), 422)


def _read_as_typed() -> None:
    """Unit, currency and style chosen in this very form say how the rest of it is read."""
    typed = request.form
    unit, style = typed.get("unit", ""), typed.get("number_style", "")
    money = typed.get("currency", "")
    now = shop()
    type_as(
        unit if unit in ("mm", "in") else now.unit,
        money if money in CURRENCIES else now.currency,
        style if style in STYLES else now.number_style,
    )


@pages.route("/channels/new", methods=["GET", "POST"])
@pages.route("/channels/<int:channel_id>", methods=["GET", "POST"])
def channel(channel_id: int | None = None) -> Any:
    """Add or change a way of selling."""
    known = need(Channel, channel_id) if channel_id is not None else None
    form = ChannelForm(obj=known)

    def save() -> str:
        service.save_channel(db(), known, form.values(), typed_version(form.version.data))
        flash(say("Saved."))
        return url_for("settings.page") + "#channels"

    if done := submit(form, save, now=lambda: ChannelForm(formdata=None, obj=known)):
        return done
    page = render_template("shop/channel.html", form=form, channel=known)
    return page, 422 if form.is_submitted() else 200


@pages.route("/postage/new", methods=["GET", "POST"])
@pages.route("/postage/<int:band_id>", methods=["GET", "POST"])
def band(band_id: int | None = None) -> Any:
    """Add or change a postage band."""
    known = need(PostageBand, band_id) if band_id is not None else None
    form = BandForm(obj=known)

    def save() -> str:
        posting.save_band(db(), known, form.values(), typed_version(form.version.data))
        flash(say("Saved."))
        return url_for("settings.page") + "#postage"

    if done := submit(form, save, now=lambda: BandForm(formdata=None, obj=known)):
        return done
    page = render_template("shop/band.html", form=form, band=known)
    return page, 422 if form.is_submitted() else 200


@pages.route("/times/<key>", methods=["GET", "POST"])
def time_of(key: str) -> Any:
    """Change the minutes of one operation."""
    known = service.operation_times(db()).get(key)
    if known is None:
        abort(404)
    form = _time_form(key, known)

    def save() -> str:
        service.set_operation_time(
            db(), key, form.setup_minutes.data, form.minutes_each.data,
            form.waiting_hours.data, typed_version(form.version.data),
        )  # fmt: skip
        flash(say("{name}: saved.", name=known.label))
        return url_for("settings.page") + "#times"

    def now() -> TimeForm:
        return _time_form(key, service.operation_times(db())[key], formdata=None)

    if done := submit(form, save, now=now):
        return done
    page = render_template("shop/time.html", form=form, time=known)
    return page, 422 if form.is_submitted() else 200


def _time_form(key: str, known: service.TimeOf, **more: Any) -> TimeForm:
    """Minutes as they are; a shop that has none of its own yet is at version zero."""
    own = service.own_time(db(), key)
    return TimeForm(obj=known, data={"version": own.version if own else 0}, **more)

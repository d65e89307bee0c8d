"""Form fields that read what a maker types and keep it, word for word, when it is refused."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any
from unicodedata import category
from uuid import uuid4

from flask_wtf import FlaskForm
from wtforms import (
    BooleanField,
    Field,
    FieldList,
    HiddenField,
    SelectField,
    StringField,
    TextAreaField,
)
from wtforms.fields.choices import SelectChoice
from wtforms.form import BaseForm
from wtforms.validators import Length, Optional, StopValidation, ValidationError
from wtforms.widgets import TextInput

from app.core.errors import DomainError
from app.core.length import plain_decimal, type_length
from app.core.money import CURRENCIES, MOST, currency, half_up
from app.core.numbers import read_number, styled
from app.language import Marked, say, to_say
from app.services.shop.settings import StaleError
from app.units import (
    COUNTED,
    parse_count,
    parse_length,
    parse_minutes,
    parse_quantity,
    type_quantity,
)
from app.web.frame.session import shop, today, typing

EARLIEST, LATEST = date(2000, 1, 1), date(2100, 12, 31)


MARKED = to_say("Not saved yet: see what is marked below. What you typed is still there.")


def speak(form: BaseForm) -> None:
    """Say a form's labels, hints and choices in the shop's language; its class has them marked."""
    for field in form:
        field.label.text = _said(field.label.text)
        field.description = _said(field.description)
        if isinstance(field, SelectField) and isinstance(field.choices, list):
            field.choices = offered((one.value, _said(one.label)) for one in field.choices)


def _said(words: Any) -> Any:
    """A text of the program's own; a name that a maker typed stays as it is."""
    return say(words) if isinstance(words, Marked) else words


class Form(FlaskForm):
    """Every form of the shop: a key against forgery, and a key against being sent twice."""

    once = HiddenField(validators=[Length(max=64)])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak(self)
        if not self.once.data:
            self.once.data = uuid4().hex

    def values(self) -> dict[str, Any]:
        """What was typed, by field, without the keys that only the form needs."""
        return {k: v for k, v in self.data.items() if k not in ("once", "csrf_token", "version")}

    def blame(self, error: DomainError) -> None:
        """Put a refusal beside its field, or above the form where it names none of them."""
        field = self._called(error.field or "")
        if field is None:
            self.form_errors.append(error.message)
            return
        field.errors = [*field.errors, error.message]
        if field.name not in self._fields:
            # What stands in a row is not among the form's own errors.
            self.form_errors.append(say(MARKED))

    def _called(self, name: str) -> Field | None:
        """A field by its name, those of rows among them."""
        rows = (
            entry.form for f in self._fields.values() if isinstance(f, FieldList) for entry in f
        )
        nested = (field for row in rows for field in row if field.name == name)
        return self._fields.get(name) or next(nested, None)

    def refuse(self, error: DomainError, now: Form) -> None:
        """Blame a refusal; of a record that changed meanwhile, show what is saved by each field.

        ``now`` is the same form filled from the record as it is. Saving once more is then meant.
        """
        self.blame(error)
        if not isinstance(error, StaleError):
            return
        version: Any = self["version"]
        version.raw_data, version.data = None, now["version"].data
        for name, field in self._fields.items():
            if name not in now._fields or isinstance(field, HiddenField | FieldList):
                continue
            saved = said(now[name])
            if saved != said(field):
                field.saved_now = saved or say("nothing")


def said(field: Field) -> str:
    """What a field holds, as a person reads it."""
    if isinstance(field, BooleanField):
        return say("yes") if field.data else say("no")
    if isinstance(field, SelectField):
        choices = field.choices or []
        labels = {str(c.value): str(c.label) for c in choices}
        return labels.get(str(field.data), str(field.data or ""))
    return str(field._value())


class TypedField(Field):
    """A text field whose value is read by ``read`` and written back by ``write``."""

    data: Any
    widget = TextInput()

    def __init__(self, label: str = "", validators: Iterable[Any] = (), **kwargs: Any) -> None:
        self.typed: str | None = None
        super().__init__(label, list(validators), **kwargs)

    def read(self, text: str) -> Any:
        raise NotImplementedError

    def write(self, value: Any) -> str:
        return str(value)

    def process_formdata(self, valuelist: list[str]) -> None:
        if not valuelist:
            return
        self.typed = valuelist[0]
        text = valuelist[0].strip()
        if not text:
            self.data = None
            return
        try:
            self.data = self.read(text)
        except DomainError as error:
            self.data = None
            raise ValueError(error.message) from None

    def _value(self) -> str:
        if self.typed is not None:
            return self.typed
        return "" if self.data is None else self.write(self.data)


class LengthField(TypedField):
    """A length in the shop's unit or any other; whole nanometres."""

    def read(self, text: str) -> int:
        return parse_length(text, typing().unit)

    def write(self, value: int) -> str:
        return type_length(value, shop().unit)


class QuantityField(TypedField):
    """A quantity of a material by its measure; sheets and journals are counted."""

    def __init__(self, label: str = "", validators: Iterable[Any] = (), *, measure: str = "count",
                 **kwargs: Any) -> None:  # fmt: skip
        self.measure = measure
        super().__init__(label, validators, **kwargs)

    def read(self, text: str) -> int:
        return parse_quantity(text, self.measure, typing().unit)

    def write(self, value: int) -> str:
        return type_quantity(value, self.measure, shop().unit)


def typed_version(text: object) -> int | None:
    """The version a form was opened at; nonsense counts as none."""
    typed = str(text or "")
    return int(typed) if typed.isdecimal() and len(typed) < 10 else None


def without_sign(text: str) -> str:
    """An amount without any currency's sign or code, so that changing currency refuses nothing."""
    signs = {c.sign.strip() for c in CURRENCIES.values()} | set(CURRENCIES)
    text = text.strip()
    for sign in sorted(signs, key=len, reverse=True):
        text = text.removeprefix(sign).removesuffix(sign).strip()
    return text


class MoneyField(TypedField):
    """An amount in the shop's currency, no finer than ``extra`` decimals past its minor unit."""

    def __init__(self, label: str = "", validators: Iterable[Any] = (), *, negative: bool = False,
                 **kwargs: Any) -> None:  # fmt: skip
        self.negative = negative
        super().__init__(label, validators, **kwargs)

    def read(self, text: str) -> Decimal:
        money = currency(typing().currency)
        value = read_number(without_sign(text))
        if abs(value) >= MOST:
            raise DomainError(say("That is more money than this program counts."))
        if value < 0 and not self.negative:
            raise DomainError(say("An amount here cannot be below zero."))
        if value != value.quantize(money.step):
            smallest = money.show(money.step)
            raise DomainError(
                say(
                    "The smallest amount is {smallest}; “{typed}” is finer.",
                    smallest=smallest, typed=text[:20],
                )
            )  # fmt: skip
        return value.quantize(money.step)

    def write(self, value: Decimal) -> str:
        return styled(f"{value:.{currency(typing().currency).digits}f}")


class PercentField(TypedField):
    """A share typed as per cent; kept as an exact decimal between zero and ``most``."""

    def __init__(self, label: str = "", validators: Iterable[Any] = (), *, most: int = 100,
                 **kwargs: Any) -> None:  # fmt: skip
        self.most = most
        super().__init__(label, validators, **kwargs)

    def read(self, text: str) -> Decimal:
        typing()
        value = read_number(re.sub(r"%|per ?cent$", "", text.strip()))
        if not 0 <= value <= self.most:
            raise DomainError(say("Per cent here lie between 0 and {most}.", most=self.most))
        if value != value.quantize(Decimal("0.0001")):
            raise DomainError(say("At most four decimals of a per cent."))
        return value / 100

    def write(self, value: Decimal) -> str:
        return styled(plain_decimal(value * 100, 4)) + "%"


class MinutesField(TypedField):
    """Minutes: ``12``, ``1/2``, ``1.5 h``, ``1 h 30``."""

    def read(self, text: str) -> Decimal:
        typing()
        return parse_minutes(text)

    def write(self, value: Decimal) -> str:
        return styled(plain_decimal(value, 4))


class HoursField(TypedField):
    """Hours that pass: ``12``, ``1/2``, ``90 min``."""

    def read(self, text: str) -> Decimal:
        typing()
        # Without any letter it is a bare number, however it is spelt: hours.
        bare = not any(c.isalpha() for c in text)
        return round(parse_minutes(f"{text} h" if bare else text) / 60, 4)

    def write(self, value: Decimal) -> str:
        return styled(plain_decimal(value, 4))


def whole_minutes(hours: Decimal | None) -> Decimal:
    """Hours as whole minutes, so that what is shown together adds up."""
    return half_up(Fraction(hours or 0) * 60, Decimal(1))


class WholeField(TypedField):
    """A whole number between two bounds; ``words`` may stand behind it, as in ``3 packs``."""

    def __init__(self, label: str = "", validators: Iterable[Any] = (), *, least: int = 0,
                 most: int = 100_000, words: Collection[str] = COUNTED,
                 **kwargs: Any) -> None:  # fmt: skip
        self.least, self.most, self.words = least, most, words
        super().__init__(label, validators, **kwargs)

    def read(self, text: str) -> int:
        typing()
        negative = text.strip().startswith(("-", "−"))
        value = parse_count(text.strip().lstrip("-−"), self.words) * (-1 if negative else 1)
        if not self.least <= value <= self.most:
            raise DomainError(
                say("This lies between {low} and {high}.", low=self.least, high=self.most)
            )
        return value


class GramsField(TypedField):
    """A weight in whole grams, typed in any unit: ``30``, ``2 kg``."""

    def read(self, text: str) -> int:
        amount = parse_quantity(text, "mass", typing().unit)
        if amount % 1000:
            raise DomainError(say("“{typed}” is no whole number of grams.", typed=text[:20]))
        return amount // 1000


def read_day(text: str) -> date:
    """A day as a browser's calendar sends it, or a person types it."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise DomainError(
            say("“{typed}” is no day; type it as 2027-03-01.", typed=text[:30])
        ) from None
    if not EARLIEST <= day <= LATEST:
        raise DomainError(say("Days lie between the years 2000 and 2100."))
    return day


class DayField(TypedField):
    """A day, from the browser's calendar or typed as 2027-03-01."""

    widget = TextInput()
    widget.input_type = "date"

    def read(self, text: str) -> date:
        return read_day(text)

    def write(self, value: date) -> str:
        return value.isoformat()


class PastDayField(DayField):
    """A day on which something happened: today at the latest, or what is on record."""

    def read(self, text: str) -> date:
        value = super().read(text)
        if value > today() and value != self.object_data:
            raise DomainError(say("This day has not come yet."))
        return value


class Needed:
    """The field must be filled; what could not be read says so itself."""

    field_flags = {"required": True}  # noqa: RUF012 - WTForms reads it from the class

    def __init__(self, message: str = to_say("This is needed.")) -> None:
        self.message = message

    def __call__(self, form: FlaskForm, field: Field) -> None:
        if field.errors:
            raise StopValidation
        blank = field.data is None or (isinstance(field.data, str) and not field.data.strip())
        if blank:
            raise StopValidation(say(self.message))


class Between:
    """A typed number or length within bounds, said in the shop's words."""

    def __init__(self, least: Any, most: Any, show: Callable[[Any], str] = str) -> None:
        self.least, self.most, self.show = least, most, show

    def __call__(self, form: FlaskForm, field: Field) -> None:
        if field.data is not None and not self.least <= field.data <= self.most:
            low, high = self.show(self.least), self.show(self.most)
            raise ValidationError(say("This lies between {low} and {high}.", low=low, high=high))


class AtMost:
    """A text no longer than there is room for."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.field_flags = {"maxlength": most}

    def __call__(self, form: FlaskForm, field: Field) -> None:
        if len(field.data or "") > self.most:
            raise ValidationError(say("At most {most} characters.", most=self.most))


def writable(text: str, besides: str = "") -> str:
    """A text without what no paper and no XML can hold: control characters, halves of others.

    ``besides`` are control characters that may stay.
    """
    return "".join(
        c
        for c in text
        if c in besides or (category(c) not in ("Cc", "Cs") and ord(c) & 0xFFFE != 0xFFFE)
    )


def text_field(label: str, *, needed: bool = False, most: int = 120, **kwargs: Any) -> StringField:
    """A line of text, stripped."""
    rules = [Needed()] if needed else [Optional()]
    return StringField(
        label,
        validators=[*rules, AtMost(most)],
        filters=[lambda value: writable(value).strip() if value else ""],
        **kwargs,
    )


def note_field(label: str = to_say("Note"), most: int = 4000) -> TextAreaField:
    """A few lines of text."""
    return TextAreaField(
        label,
        validators=[Optional(), AtMost(most)],
        filters=[lambda value: writable(value, "\r\n\t").strip() if value else ""],
    )


def offered(choices: Iterable[tuple[Any, str]]) -> list[SelectChoice]:
    """Value and words, as a select field takes them."""
    return [SelectChoice(value=value, label=words) for value, words in choices]


def choice_field(label: str, choices: Iterable[tuple[Any, str]], **kwargs: Any) -> SelectField:
    """One of several; an answer that was not offered is refused."""
    return SelectField(label, choices=offered(choices), **kwargs)

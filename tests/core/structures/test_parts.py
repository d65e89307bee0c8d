"""Parts of any journal: how often, which work, which step. By hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.costing import Work
from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.core.structures.base import BenchStep
from app.core.structures.parts import Part, PartPer, check_parts, signatures_of, with_parts

FIVE = Fraction(5)


def part(per: PartPer, measure: str = "count", amount: int = 2, name: str = "Ring") -> Part:
    return Part(name, "Horn ring", measure, amount, per, FIVE)


@pytest.mark.parametrize(
    ("per", "signatures", "times", "work"),
    [
        (PartPer.JOURNAL, 3, 1, Work("Ring", "journal", 1, Fraction(0), FIVE, "part Ring")),
        (PartPer.JOURNAL, 0, 1, Work("Ring", "journal", 1, Fraction(0), FIVE, "part Ring")),
        (PartPer.SIGNATURE, 3, 3, Work("Ring", "signature", 3, Fraction(0), FIVE, "part Ring")),
        (PartPer.SIGNATURE, 1, 1, Work("Ring", "signature", 1, Fraction(0), FIVE, "part Ring")),
        (PartPer.BATCH, 3, 0, Work("Ring", "batch", 1, FIVE, Fraction(0), "part Ring")),
    ],
)
def test_how_often_and_its_work(per: PartPer, signatures: int, times: int, work: Work) -> None:
    assert part(per).times(signatures) == times
    assert part(per).work(signatures) == work


@given(st.integers(1, 24), st.integers(1, 500), st.sampled_from(list(PartPer)))
def test_minutes_of_a_batch_add_up(signatures: int, batch: int, per: PartPer) -> None:
    """Minutes of one, times how many are made, are the minutes of all."""
    all_of_it = part(per).work(signatures).minutes(batch, Fraction(0)) * batch
    assert all_of_it == FIVE * (batch * part(per).times(signatures) or 1)


@pytest.mark.parametrize(
    ("dims", "signatures"),
    [({"signatures": 3, "folios": 4}, 3), ({"folios": 5}, 1), ({"leaves": 40}, 0), ({}, 0)],
)
def test_signatures(dims: dict[str, int | str], signatures: int) -> None:
    assert signatures_of(dims) == signatures


def test_no_part_for_each_signature_of_what_has_none() -> None:
    parts = [part(PartPer.JOURNAL), part(PartPer.SIGNATURE)]
    check_parts(parts, 1)
    check_parts(parts[:1], 0)
    with pytest.raises(DomainError, match="no signatures") as caught:
        check_parts(parts, 0)
    assert caught.value.field == "parts-1-per"


def said(step: BenchStep) -> str:
    return step.say(lambda nm: f"{nm // MM} mm", lambda nm: "a little more")


def test_steps_stand_before_the_last_in_the_makers_order() -> None:
    steps = (BenchStep("Sew it."), BenchStep("Press it."))
    ribbon = part(PartPer.JOURNAL, "length", METRE // 4, "Ribbon {red}")
    found = with_parts(
        steps,
        [(ribbon, ""), (part(PartPer.SIGNATURE), "2"), (part(PartPer.BATCH), "2")],
        3,
    )
    assert [said(step) for step in found] == [
        "Sew it.", "Ribbon {red}: 250 mm of Horn ring.",
        "Ring: 2 of Horn ring for each of the 3 signatures.",
        "Ring, once for all that are made together: 2 of Horn ring.", "Press it.",
    ]  # fmt: skip
    [one] = with_parts((), [(part(PartPer.SIGNATURE), "2")], 1)
    assert said(one) == "Ring: 2 of Horn ring for the signature."
    assert with_parts(steps, [], 3) == steps

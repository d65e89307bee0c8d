"""The list for a market: by hand, and against every list there could be."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise

import pytest

from app.core.errors import DomainError
from app.core.selling.demand import NormalDemand, PoissonDemand, ThreeGuesses, best_number, outlook
from app.core.selling.taking import Takeable, chance_of, prospect, take, worth_of_an_hour

F = Fraction


def thing(key: int = 1, **more: object) -> Takeable:
    values = {"demand": ThreeGuesses(2, 4, 8), "gain": F(20), "loss": F(4), "minutes": F(50)}
    return Takeable(key, **(values | more))  # type: ignore[arg-type]


def test_three_guesses_by_hand() -> None:
    """Weights of 2 to 8: 1/3, 2/3, 1, 4/5, 3/5, 2/5, 1/5, four in all."""
    demand = ThreeGuesses(2, 4, 8)
    assert demand.at_least(0) == demand.at_least(2) == 1
    assert demand.at_least(3) == 1 - F(1, 3) / 4
    assert demand.at_least(5) == F(2) / 4
    assert demand.at_least(8) == F(1, 5) / 4
    assert demand.at_least(9) == 0
    weights = {2: F(1, 3), 3: F(2, 3), 4: F(1), 5: F(4, 5), 6: F(3, 5), 7: F(2, 5), 8: F(1, 5)}
    assert demand.mean == sum(n * w for n, w in weights.items()) / 4


def test_a_guess_that_is_certain() -> None:
    demand = ThreeGuesses(5, 5, 5)
    assert [demand.at_least(n) for n in (5, 6)] == [1, 0]
    assert demand.mean == 5


@pytest.mark.parametrize("guesses", [(-1, 2, 3), (3, 2, 5), (1, 5, 4), (0, 1, 1001)])
def test_guesses_that_cannot_be(guesses: tuple[int, int, int]) -> None:
    with pytest.raises(DomainError, match="must rise"):
        ThreeGuesses(*guesses)


@pytest.mark.parametrize("mean", [F(-1), F(1001)])
def test_means_that_cannot_be(mean: Fraction) -> None:
    with pytest.raises(DomainError):
        PoissonDemand(mean)
    with pytest.raises(DomainError):
        NormalDemand(mean, F(1))
    with pytest.raises(DomainError):
        NormalDemand(F(5), F(0))


@pytest.mark.parametrize(
    "demand", [ThreeGuesses(0, 3, 9), PoissonDemand(F(0)), PoissonDemand(F("6.5")), NormalDemand(F(7), F(3))]
)  # fmt: skip
def test_chances_fall_and_add_up_to_the_mean(demand: PoissonDemand) -> None:
    chances = [demand.at_least(n) for n in range(1, 80)]
    assert demand.at_least(0) == demand.at_least(-3) == 1
    assert all(0 <= b <= a <= 1 for a, b in pairwise(chances))
    assert chances[-1] == 0
    assert abs(sum(chances) - demand.mean) < F(1, 10**9)


def test_the_best_number_is_that_of_trying_all() -> None:
    chooser = random.Random(15)
    for _ in range(60):
        demand = PoissonDemand(F(chooser.randint(1, 300), 20))
        gain, loss = F(chooser.randint(1, 40)), F(chooser.randint(1, 40))
        one = thing(demand=demand, gain=gain, loss=loss)
        best = max(range(60), key=lambda n: (one.worth_of(n), -n))
        assert one.best == best == best_number(demand.at_least, gain, loss)


def test_what_brings_nothing_stays_at_home() -> None:
    assert thing(gain=F(0)).best == thing(gain=F(-3)).best == 0
    assert thing(loss=F(0)).best == 8
    assert best_number(PoissonDemand(F(0)).at_least, F(5), F(1)) == 0


def test_worth_of_the_next_one() -> None:
    """20 × P(D > 4) − 4 × P(D ≤ 4) with P(D > 4) a half."""
    assert thing().worth(4) == 20 * F(1, 2) - 4 * F(1, 2)
    assert thing().worth_of(4) - thing().worth_of(3) == thing().worth(3)


def test_hours_go_to_what_brings_most_an_hour() -> None:
    quick, slow = thing(1, minutes=F(20)), thing(2, minutes=F(60))
    assert take([quick, slow], F(0)) == {1: 0, 2: 0}
    assert take([quick, slow], F(40)) == {1: 2, 2: 0}
    everything = take([quick, slow], F(10_000))
    assert everything == {1: quick.best, 2: slow.best}


def test_what_is_made_is_taken_without_hours_but_no_more_than_pays() -> None:
    assert take([thing(here=3)], F(0)) == {1: 3}
    assert take([thing(here=30)], F(0)) == {1: thing().best}
    assert take([thing(here=3)], F(55)) == {1: 4}
    assert take([thing(minutes=F(0))], F(0)) == {1: thing().best}


def test_what_no_longer_fits_leaves_room_for_less() -> None:
    long, short = thing(1, minutes=F(100), gain=F(500)), thing(2, minutes=F(30))
    assert take([long, short], F(130)) == {1: 1, 2: 1}
    assert take([long, short], F(90)) == {1: 0, 2: 3}


def best_by_all_lists(things: list[Takeable], minutes: int) -> Fraction:
    """Exact dynamic programming over whole minutes."""
    best = [F(0)] * (minutes + 1)
    for one in things:
        worth = [one.worth_of(n) for n in range(one.best + 1)]
        best = [
            max(
                best[left - used] + value
                for n, value in enumerate(worth)
                if (used := int(max(n - one.here, 0) * one.minutes)) <= left
            )
            for left in range(minutes + 1)
        ]
    return best[minutes]


@pytest.mark.parametrize("seed", range(25))
def test_the_list_is_within_one_journal_of_the_best(seed: int) -> None:
    chooser = random.Random(seed)
    things = [
        Takeable(
            key, PoissonDemand(F(chooser.randint(5, 80), 10)), F(chooser.randint(5, 40)),
            F(chooser.randint(1, 10)), F(chooser.randint(15, 90)), chooser.randint(0, 3),
        )
        for key in range(chooser.randint(2, 5))
    ]  # fmt: skip
    minutes = chooser.randint(60, 600)
    numbers = take(things, F(minutes))
    found = prospect(things, numbers)
    assert found.minutes <= minutes
    best = best_by_all_lists(things, minutes)
    assert best - max(one.gain for one in things) <= found.worth <= best


def test_what_a_list_promises() -> None:
    one, other = thing(1, here=1), thing(2, minutes=F(30))
    found = prospect([one, other], {1: 3, 2: 2, 9: 4})
    assert found.minutes == 2 * 50 + 2 * 30
    assert found.worth == one.worth_of(3) + other.worth_of(2)
    assert found.by_key[1].sold == 2 + one.demand.at_least(3)
    assert found.by_key[1].home == 3 - found.by_key[1].sold
    assert found.by_key[1].in_vain == one.demand.mean - found.by_key[1].sold
    assert found.by_key[1].sold_out == one.demand.at_least(3)
    assert outlook(one.demand, 0).sold == 0


def test_an_hour_more_is_worth_what_it_adds() -> None:
    things = [thing(1, minutes=F(30))]
    assert worth_of_an_hour(things, F(0)) == things[0].worth(0) + things[0].worth(1)
    assert worth_of_an_hour(things, F(10_000)) == 0


def test_the_chance_to_earn_the_day_by_hand() -> None:
    """Two or three of one at 20, one or none of another at 10; 60 is the day."""
    one = thing(1, demand=ThreeGuesses(2, 2, 3))
    other = thing(2, demand=ThreeGuesses(0, 0, 1), gain=F(10))

    def earns(which: Takeable) -> Fraction:
        return which.gain

    three, any_other = one.demand.at_least(3), other.demand.at_least(1)
    assert three == F(1, 3)
    found = chance_of([one, other], {1: 3, 2: 1}, F(50), earns)
    assert abs(found - (1 - (1 - three) * (1 - any_other))) < F(1, 10**9)
    assert abs(chance_of([one, other], {1: 3, 2: 1}, F(60), earns) - three) < F(1, 10**9)
    assert chance_of([one, other], {1: 2, 2: 0}, F(60), earns) < F(1, 10**9)
    assert chance_of([one], {1: 0}, F(0), earns) == 1
    assert chance_of([one], {1: 3}, F(1), lambda _: F(-2)) == 0


def test_what_is_worth_nothing_more_stays() -> None:
    """At a gain and a loss of 4 the fifth is worth 4 × 1/2 − 4 × 1/2: not taken."""
    even = thing(gain=F(4), loss=F(4), minutes=F(0))
    assert even.worth(4) == 0
    assert even.best == 4
    assert take([even], F(0)) == {1: 4}
    assert take([thing(gain=F(4), loss=F(4))], F(1000)) == {1: 4}


def test_the_chance_counts_each_number_once() -> None:
    """Of 0 to 2, all as likely at 1/3 … by their weights 1, 1/2 and so on, at 10 each."""
    one = thing(demand=ThreeGuesses(0, 1, 2), gain=F(10))
    chances = [one.demand.at_least(n) - one.demand.at_least(n + 1) for n in range(3)]
    assert sum(chances) == 1
    for goal, number in ((10, 1), (20, 2)):
        found = chance_of([one], {1: 2}, F(goal), lambda t: t.gain)
        assert abs(found - one.demand.at_least(number)) < F(1, 10**9)
    # Only one is taken: two can never be sold.
    assert chance_of([one], {1: 1}, F(20), lambda t: t.gain) == 0
    two = thing(2, demand=ThreeGuesses(0, 1, 2), gain=F(10))
    both = chance_of([one, two], {1: 2, 2: 2}, F(30), lambda t: t.gain)
    by_hand = chances[2] * (1 - chances[0]) + chances[1] * chances[2]
    assert abs(both - by_hand) < F(1, 10**9)


def test_the_chance_of_a_large_sum_is_that_of_a_small_one() -> None:
    """A thousand times the money, added up in coarser steps: the same chance, as no sum is near 70."""
    things = [
        thing(1, demand=PoissonDemand(F(6)), gain=F(7)),
        thing(2, demand=PoissonDemand(F(4)), gain=F(11)),
    ]
    taken = {1: 9, 2: 6}
    small = chance_of(things, taken, F(70), lambda t: t.gain)
    large = chance_of(things, taken, F(70_000), lambda t: t.gain * 1000)
    huge = chance_of(things, taken, F(70_000_000), lambda t: t.gain * 1_000_000)
    assert F(1, 10) < small < F(9, 10)
    assert abs(large - small) < F(1, 1000)
    assert abs(huge - small) < F(1, 1000)


def test_a_cent_too_little_is_too_little() -> None:
    """What is asked for is certain: two at a cent make two cents, and never three."""
    certain = thing(demand=ThreeGuesses(9, 9, 9), gain=F(1, 100))
    assert chance_of([certain], {1: 2}, F(3, 100), lambda t: t.gain) == 0
    assert chance_of([certain], {1: 3}, F(3, 100), lambda t: t.gain) == 1
    assert chance_of([certain], {1: 9}, F(3, 100), lambda t: t.gain) == 1
    assert chance_of([certain], {1: 1}, F(1, 100), lambda t: t.gain) == 1


def test_what_is_made_costs_no_minutes() -> None:
    made = thing(demand=ThreeGuesses(2, 2, 3), minutes=F(30), here=2)
    for number, minutes in ((0, 0), (1, 0), (2, 0), (3, 30)):
        assert prospect([made], {1: number}).minutes == minutes


def test_what_is_not_on_the_list_promises_nothing() -> None:
    assert prospect([thing()], {}).worth == prospect([thing()], {1: 0}).worth == 0
    assert prospect([thing()], {}).minutes == 0

"""Which sheets to cut and to buy for a list of pieces, each sheet holding one kind of piece.

For every kind of piece and every sheet the best straight-cut layout is found first; an integer
program (HiGHS) then chooses how many sheets of each go to which piece, using the sheets on
hand and buying whole packs at the prices their quantity earns. Money to spend comes first,
then the value of stock used up, then the number of sheets.

With one kind of piece the answer is the best that straight cuts allow. With several it is the
best without mixing kinds on a sheet; :mod:`planner` mixes them.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import highspy

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.one_sheet.yields import Yield, yield_of
from app.core.errors import DomainError
from app.core.paper import Piece, Sheet

MOST_SHEETS = 1_000_000
TOO_FEW = "The sheets on hand and the limits on buying cannot cover the list."


@dataclass(frozen=True)
class Break:
    """From this many packs on, a pack costs ``price`` (minor units)."""

    from_packs: int
    price: int


@dataclass(frozen=True)
class SheetOffer:
    """A sheet that can be had: so many on hand for nothing, the rest in packs.

    ``value`` (minor units) is what a sheet on hand is worth, used only to choose between plans
    that cost the same money. ``limit`` is the most sheets that can be bought, None for any
    number; without ``breaks`` none can be bought.
    """

    key: str
    sheet: Sheet
    pack: int = 1
    breaks: tuple[Break, ...] = ()
    on_hand: int = 0
    limit: int | None = None
    value: Fraction = Fraction(0)


@dataclass(frozen=True)
class Wanted:
    """So many of one piece, known by ``key``."""

    key: str
    piece: Piece
    count: int


@dataclass(frozen=True)
class Use:
    """``sheets`` sheets of one offer cut into one kind of piece."""

    wanted: Wanted
    offer: SheetOffer
    cut: Yield
    sheets: int


@dataclass(frozen=True)
class Buy:
    """Whole packs of one offer, and what they cost in minor units."""

    offer: SheetOffer
    packs: int
    cost: int

    @property
    def sheets(self) -> int:
        """Sheets in the packs."""
        return self.packs * self.offer.pack


@dataclass(frozen=True)
class CoverPlan:
    """What to cut from which sheets, what to buy, and the money it takes."""

    uses: tuple[Use, ...]
    buys: tuple[Buy, ...]
    proved: bool = True
    """Whether no plan that keeps kinds apart costs less."""

    @property
    def spend(self) -> int:
        """Money for the packs, in minor units."""
        return sum(buy.cost for buy in self.buys)

    def sheets_used(self) -> dict[str, int]:
        """Sheets cut, by offer."""
        used: dict[str, int] = {}
        for use in self.uses:
            used[use.offer.key] = used.get(use.offer.key, 0) + use.sheets
        return used


def worth_of(
    cut: Mapping[Sheet, int], bought: Mapping[str, int], offers: Sequence[SheetOffer]
) -> Fraction:
    """What sheets cut are worth, in minor units: of each size those on hand first, then the rest.

    ``bought`` is sheets by the key of their offer.
    """
    worth = Fraction(0)
    for sheet, number in cut.items():
        left = number
        mine = sorted((o for o in offers if o.sheet == sheet), key=lambda o: o.key)
        for offer, there in (
            *((o, o.on_hand) for o in mine),
            *((o, bought.get(o.key, 0)) for o in mine),
        ):
            taken = min(left, there)
            worth += taken * offer.value
            left -= taken
    return worth


class NoPlanError(DomainError):
    """No plan covers the list; the message says why."""


class OutOfTimeError(NoPlanError):
    """No plan was found in the time; there may be one."""


def plan_cover(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    cutter: Cutter = KNIFE,
    yields: Mapping[tuple[str, str], Yield] | None = None,
    seconds: float = 5.0,
) -> CoverPlan:
    """The cheapest plan that cuts every wanted piece; raises :class:`NoPlanError`.

    ``yields`` may hold layouts already known, by wanted key and offer key. When the time runs
    out the best plan found so far is taken; one that is plainly right is found at once.
    """
    wanted = [w for w in wanted if w.count > 0]
    if not wanted:
        return CoverPlan((), ())
    known = dict(yields or {})
    until = time.perf_counter() + seconds / 2
    for w in wanted:
        for offer in offers:
            if (w.key, offer.key) not in known:
                known[w.key, offer.key] = yield_of(
                    w.piece, offer.sheet, cutter, quick=time.perf_counter() > until
                )
        check_wanted(w, [known[w.key, offer.key] for offer in offers])
    return _Program(wanted, offers, known, seconds).solve()


def check_wanted(wanted: Wanted, yields: Sequence[Yield]) -> None:
    """Refuse a piece that fits on none of the sheets, or is wanted absurdly often."""
    if not any(cut.best for cut in yields):
        raise NoPlanError(f"“{wanted.key}” fits on none of the sheets.")
    if wanted.count > MOST_SHEETS:
        raise NoPlanError(f"“{wanted.key}” is wanted more than a million times.")


def check_enough(
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    yields: Mapping[tuple[str, str], Yield],
) -> None:
    """Refuse a list that one kind alone, or area alone, shows to be more than can be had."""
    for w in wanted:
        if not any(yields[w.key, o.key].best and _most(o, 1) for o in offers):
            raise NoPlanError(TOO_FEW)
    area = sum(w.count * w.piece.width_nm * w.piece.height_nm for w in wanted)
    for offer in offers:
        width, height = offer.sheet.usable
        area -= width * height * _most(offer, 1 + max(area, 0) // (width * height))
    if area > 0:
        raise NoPlanError(TOO_FEW)


def _most(offer: SheetOffer, enough: int) -> int:
    """Sheets of an offer that can be had, where more than ``enough`` are of no interest."""
    if not offer.breaks:
        return offer.on_hand
    if offer.limit is None:
        return offer.on_hand + enough
    return offer.on_hand + offer.limit // offer.pack * offer.pack


class _Program:
    """The integer program; variables are whole sheets per piece and offer, and packs by price."""

    def __init__(
        self,
        wanted: Sequence[Wanted],
        offers: Sequence[SheetOffer],
        yields: Mapping[tuple[str, str], Yield],
        seconds: float,
    ) -> None:
        self.seconds = seconds
        self.wanted, self.offers, self.yields = wanted, offers, yields
        self.model = highspy.Highs()
        self.model.silent()
        for option, value in (("threads", 1), ("random_seed", 1), ("mip_rel_gap", 0.0)):
            self.model.setOptionValue(option, value)
        self.model.setOptionValue("mip_abs_gap", 0.5)
        self.sheets: dict[tuple[str, str], highspy.highs.highs_var] = {}
        self.packs: dict[tuple[str, int], highspy.highs.highs_var] = {}
        self.proved = all(found.exact for found in yields.values())
        self._cover_pieces()
        self._balance_sheets()

    def _cover_pieces(self) -> None:
        for w in self.wanted:
            terms = []
            for offer in self.offers:
                count = self.yields[w.key, offer.key].best
                if count:
                    most = -(-w.count // count)
                    var = self.model.addIntegral(lb=0, ub=most)
                    self.sheets[w.key, offer.key] = var
                    terms.append(count * var)
            self.model.addConstr(sum(terms) >= w.count)

    def _balance_sheets(self) -> None:
        """Sheets cut ≤ on hand + bought; at most one price tier of an offer is used."""
        for offer in self.offers:
            cut = [var for (_, key), var in self.sheets.items() if key == offer.key]
            if not cut:
                continue
            need = sum(
                -(-w.count // self.yields[w.key, offer.key].best)
                for w in self.wanted
                if (w.key, offer.key) in self.sheets
            )
            most = -(-need // offer.pack)
            if offer.limit is not None:
                most = min(most, offer.limit // offer.pack)
            supply = [offer.pack * var for var in self._tiers(offer, most)]
            self.model.addConstr(sum(cut) - sum(supply) <= offer.on_hand)

    def _tiers(self, offer: SheetOffer, most: int) -> list[highspy.highs.highs_var]:
        """Pack variables, one a price; reaching a price's least quantity may mean buying more."""
        breaks = sorted(offer.breaks, key=lambda b: b.from_packs)
        chosen = []
        tiers = []
        for index, tier in enumerate(breaks):
            ceiling = max(most, tier.from_packs)
            if offer.limit is not None:
                ceiling = min(ceiling, offer.limit // offer.pack)
            if ceiling < tier.from_packs:
                continue
            var = self.model.addIntegral(lb=0, ub=ceiling)
            self.packs[offer.key, index] = var
            tiers.append(var)
            if len(breaks) > 1 or tier.from_packs > 1:
                switch = self.model.addBinary()
                chosen.append(switch)
                self.model.addConstr(var - ceiling * switch <= 0)
                self.model.addConstr(var - tier.from_packs * switch >= 0)
        if chosen:
            self.model.addConstr(sum(chosen) <= 1)
        return tiers

    def solve(self) -> CoverPlan:
        money = sum(self._price(key, index) * var for (key, index), var in self.packs.items())
        if self.packs:
            self._minimise(money, self.seconds * 0.7)
            if self.model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                self.proved = False
            least = self._spend()
            self.model.addConstr(money <= least + 0.25)
        found = self._read() if self.packs else None
        # Of two sheets of one worth the one already here is used first.
        value = {o.key: float(o.value) * (0.99 if o.on_hand else 1) for o in self.offers}
        # Packs that cost nothing are not taken for nothing either.
        used = sum((value[key] + 0.001) * var for (_, key), var in self.sheets.items())
        taken = sum(0.0001 * var for var in self.packs.values())
        self.model.setOptionValue("mip_abs_gap", 1e-6)
        try:
            self._minimise(used + taken if self.packs else used, self.seconds * 0.3)
        except OutOfTimeError:
            if found is None:
                raise
            return found
        return self._read()

    def _price(self, key: str, index: int) -> int:
        offer = next(o for o in self.offers if o.key == key)
        return sorted(offer.breaks, key=lambda b: b.from_packs)[index].price

    def _minimise(self, expression: highspy.highs.highs_linear_expression, seconds: float) -> None:
        self.model.setOptionValue("time_limit", max(seconds, 0.05))
        self.model.minimize(expression)
        status = self.model.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            raise NoPlanError(TOO_FEW)
        if self.model.getInfo().primal_solution_status != 2:
            raise OutOfTimeError("No plan was found in the time allowed.")

    def _spend(self) -> int:
        return sum(
            self._price(key, index) * round(self.model.val(var))
            for (key, index), var in self.packs.items()
        )

    def _read(self) -> CoverPlan:
        """Whole numbers out of the solver's floats, checked again as integers."""
        by_key = {w.key: w for w in self.wanted}
        offers = {o.key: o for o in self.offers}
        uses = tuple(
            Use(by_key[w], offers[o], self.yields[w, o], round(self.model.val(var)))
            for (w, o), var in self.sheets.items()
            if round(self.model.val(var))
        )
        buys = tuple(
            Buy(offers[o], packs, packs * self._price(o, index))
            for (o, index), var in self.packs.items()
            if (packs := round(self.model.val(var)))
        )
        plan = CoverPlan(uses, buys, self.proved)
        check_cover(plan, self.wanted)
        return plan


def check_cover(plan: CoverPlan, wanted: Sequence[Wanted]) -> None:
    """Raise where a plan leaves a piece short or cuts a sheet that is not there."""
    for w in wanted:
        cut = sum(use.cut.best * use.sheets for use in plan.uses if use.wanted.key == w.key)
        if cut < w.count:
            raise NoPlanError(f"The plan found is {w.count - cut} short of “{w.key}”.")
    bought = {buy.offer.key: buy.sheets for buy in plan.buys}
    for use in plan.uses:
        there = use.offer.on_hand + bought.get(use.offer.key, 0)
        if plan.sheets_used()[use.offer.key] > there:
            raise NoPlanError(f"The plan found cuts more “{use.offer.key}” than there are.")

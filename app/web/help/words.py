"""The words of the bench and of the books, each explained in a sentence or two.

What a word means is a shared fact of the trade (common practice, no source) or, of the books, the
ordinary sense of bookkeeping.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from unicodedata import normalize

from app.language import say, to_say


@dataclass(frozen=True)
class Word:
    """A word, where its explanation stands on the page, and what it means."""

    word: str
    means: str

    @property
    def place(self) -> str:
        """Its place on the page, as in ``/help#parent-sheet``."""
        return self.word.lower().replace(" ", "-").replace("/", "-")


def in_order(group: Sequence[Word]) -> list[Word]:
    """Words by the alphabet of the shop's language, as near as their letters without marks are."""
    return sorted(group, key=lambda one: normalize("NFKD", say(one.word)).casefold())


BENCH = (
    Word(
        to_say("Caliper"),
        to_say("The thickness of one sheet. Measure ten together and divide by ten."),
    ),
    Word(
        to_say("Creep"),
        to_say("How far the inner folios of a signature push out past the outer ones."),
    ),
    Word(to_say("Folio"), to_say("One sheet folded once: two leaves, four pages.")),
    Word(to_say("Fore edge"), to_say("The edge of a book opposite the spine.")),
    Word(
        to_say("Grain"),
        to_say(
            "The direction in which the fibres of a paper run. Fold along it: a fold across it "
            "cracks, and the leaf does not lie flat."
        ),
    ),
    Word(to_say("Grammage"), to_say("What a square metre of a paper weighs, in grams.")),
    Word(
        to_say("Kerf"),
        to_say("What a cut itself takes away: nothing with a blade, a little with a saw."),
    ),
    Word(to_say("Leaf"), to_say("Half of a folio: two pages.")),
    Word(to_say("Lift"), to_say("The sheets that are cut together in one stroke.")),
    Word(
        to_say("Offcut"),
        to_say(
            "What is left of a sheet and large enough to keep. It has its own size and its share "
            "of the sheet’s cost."
        ),
    ),
    Word(
        to_say("Parent sheet"),
        to_say("A sheet as it is bought, before anything is cut from it."),
    ),
    Word(to_say("Piece"), to_say("A rectangle that is cut from a sheet.")),
    Word(
        to_say("Signature"),
        to_say("Folios laid inside one another and sewn together through the fold."),
    ),
    Word(to_say("Spoilage"), to_say("Pieces expected to go wrong, so that enough are cut.")),
    Word(to_say("Square"), to_say("How far a cover stands past the leaf.")),
    Word(to_say("Station"), to_say("A hole for the thread along the fold.")),
    Word(to_say("Swell"), to_say("What the thread adds to the thickness at the spine.")),
    Word(
        to_say("Yield"),
        to_say("How many pieces one sheet gives, cut from edge to edge as well as can be."),
    ),
)

BOOKS = (
    Word(
        to_say("Bench hours"),
        to_say("The hours at the bench that you have in a day, a week or a year."),
    ),
    Word(to_say("Break-even"), to_say("What has to be sold until a market has paid for itself.")),
    Word(to_say("Commission"), to_say("The share that a shop keeps of what it sells for you.")),
    Word(
        to_say("Contribution"),
        to_say(
            "What one sale brings after its materials, fees and tax: it pays for your hours and "
            "what is left."
        ),
    ),
    Word(
        to_say("Cost of sales"),
        to_say("What had been spent on the journals that were sold, materials and work."),
    ),
    Word(
        to_say("Draft"),
        to_say(
            "A purchase that is written down and not sent yet. Until it is marked as sent, "
            "nothing is on its way."
        ),
    ),
    Word(
        to_say("First in, first out"),
        to_say("What came first leaves the stock first, at what it had cost."),
    ),
    Word(
        to_say("In-stock target"),
        to_say(
            "How often a thing should be there when it is wanted. A higher target keeps more of "
            "it in stock."
        ),
    ),
    Word(to_say("Lead time"), to_say("The days from sending a purchase until it comes.")),
    Word(to_say("Lot"), to_say("What came in at one time at one cost.")),
    Word(to_say("Margin"), to_say("Profit as a share of the price before tax.")),
    Word(
        to_say("Movement"),
        to_say(
            "One change of the stock: something received, used, counted, sold, spoiled. Each can "
            "be read on the page of its thing."
        ),
    ),
    Word(
        to_say("Overhead"),
        to_say(
            "What the workshop costs and belongs to no journal: rent, tools, insurance. It is "
            "shared over the bench hours of a year."
        ),
    ),
    Word(
        to_say("Pay per hour"),
        to_say(
            "What an hour at the bench earned: what was left of the sales before your own pay, by"
            " the hours it took."
        ),
    ),
    Word(to_say("Price point"), to_say("How your prices end: on a whole, a half, .95 or .99.")),
    Word(
        to_say("Profit"),
        to_say("What is left of a price after materials, your own pay, overhead, fees and tax."),
    ),
    Word(
        to_say("Safety stock"),
        to_say("What is kept in case more is wanted, or it comes later, than usual."),
    ),
    Word(
        to_say("Set aside"),
        to_say("Journals on the shelf that belong to an order; nobody else gets them."),
    ),
    Word(to_say("Stock value"), to_say("What all that is in stock had cost.")),
    Word(
        to_say("Trial balance"),
        to_say("All accounts of the journal with their sums; both sides are equal."),
    ),
)

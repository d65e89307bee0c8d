"""The words of the bench and of the books, each explained in a sentence or two.

What a word means is a shared fact of the trade (common practice, no source) or, of the books, the
ordinary sense of bookkeeping.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Word:
    """A word, where its explanation stands on the page, and what it means."""

    word: str
    means: str

    @property
    def place(self) -> str:
        """Its place on the page, as in ``/help#parent-sheet``."""
        return self.word.lower().replace(" ", "-").replace("/", "-")


BENCH = (
    Word("Caliper", "The thickness of one sheet. Measure ten together and divide by ten."),
    Word("Creep", "How far the inner folios of a signature push out past the outer ones."),
    Word("Folio", "One sheet folded once: two leaves, four pages."),
    Word("Fore edge", "The edge of a book opposite the spine."),
    Word(
        "Grain",
        "The direction in which the fibres of a paper run. Fold along it: a fold across it "
        "cracks, and the leaf does not lie flat.",
    ),
    Word("Grammage", "What a square metre of a paper weighs, in grams."),
    Word("Kerf", "What a cut itself takes away: nothing with a blade, a little with a saw."),
    Word("Leaf", "Half of a folio: two pages."),
    Word("Lift", "The sheets that are cut together in one stroke."),
    Word(
        "Offcut",
        "What is left of a sheet and large enough to keep. It has its own size and its "
        "share of the sheet’s cost.",
    ),
    Word("Parent sheet", "A sheet as it is bought, before anything is cut from it."),
    Word("Piece", "A rectangle that is cut from a sheet."),
    Word("Signature", "Folios laid inside one another and sewn together through the fold."),
    Word("Spoilage", "Pieces expected to go wrong, so that enough are cut."),
    Word("Square", "How far a cover stands past the leaf."),
    Word("Station", "A hole for the thread along the fold."),
    Word("Swell", "What the thread adds to the thickness at the spine."),
    Word("Yield", "How many pieces one sheet gives, cut from edge to edge as well as can be."),
)

BOOKS = (
    Word("Bench hours", "The hours at the bench that you have in a day, a week or a year."),
    Word("Break-even", "What has to be sold until a market has paid for itself."),
    Word("Commission", "The share that a shop keeps of what it sells for you."),
    Word(
        "Contribution",
        "What one sale brings after its materials, fees and tax: it pays for your hours and "
        "what is left.",
    ),
    Word(
        "Cost of sales",
        "What had been spent on the journals that were sold, materials and work.",
    ),
    Word(
        "Draft",
        "A purchase that is written down and not sent yet. Until it is marked as sent, "
        "nothing is on its way.",
    ),
    Word("First in, first out", "What came first leaves the stock first, at what it had cost."),
    Word(
        "In-stock target",
        "How often a thing should be there when it is wanted. A higher target keeps more of "
        "it in stock.",
    ),
    Word("Lead time", "The days from sending a purchase until it comes."),
    Word("Lot", "What came in at one time at one cost."),
    Word("Margin", "Profit as a share of the price before tax."),
    Word(
        "Movement",
        "One change of the stock: something received, used, counted, sold, spoiled. Each "
        "can be read on the page of its thing.",
    ),
    Word(
        "Overhead",
        "What the workshop costs and belongs to no journal: rent, tools, insurance. It is "
        "shared over the bench hours of a year.",
    ),
    Word(
        "Pay per hour",
        "What an hour at the bench earned: what was left of the sales before your own pay, "
        "by the hours it took.",
    ),
    Word("Price point", "How your prices end: on a whole, a half, .95 or .99."),
    Word(
        "Profit",
        "What is left of a price after materials, your own pay, overhead, fees and tax.",
    ),
    Word("Safety stock", "What is kept in case more is wanted, or it comes later, than usual."),
    Word("Set aside", "Journals on the shelf that belong to an order; nobody else gets them."),
    Word("Stock value", "What all that is in stock had cost."),
    Word("Trial balance", "All accounts of the journal with their sums; both sides are equal."),
)

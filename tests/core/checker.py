"""An independent check of a cutting answer in its JSON form, written apart from the planner.

It reads the problem and the answer as a stranger would, in plain numbers, and says what is wrong:
a piece outside the sheet, over another, not free by straight cuts, against the grain, turned
where it may not be, too few pieces or too many, sheets that are not there, money that does not add up.
"""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from fractions import Fraction
from typing import Any

Rect = tuple[Fraction, Fraction, Fraction, Fraction]


def rect(data: dict[str, Any]) -> Rect:
    """Left, top, right, bottom."""
    x, y, w, h = (Fraction(str(data[k])) for k in ("x", "y", "width", "height"))
    return x, y, x + w, y + h


def separable(pieces: list[Rect], kerf: Fraction) -> bool:
    """Whether straight cuts from edge to edge, each ``kerf`` wide, free every piece."""
    if len(pieces) < 2:
        return True
    for axis in (0, 1):
        ordered = sorted(pieces, key=lambda r: r[axis])
        reach = ordered[0][axis + 2]
        for at in range(1, len(ordered)):
            if ordered[at][axis] >= reach + kerf:
                return separable(ordered[:at], kerf) and separable(ordered[at:], kerf)
            reach = max(reach, ordered[at][axis + 2])
    return False


def check_answer(problem: dict[str, Any], answer: dict[str, Any]) -> None:
    """Assert that the answer solves the problem."""
    sheets = {s["name"]: s for s in problem["sheets"]}
    wanted = {p["name"]: p for p in problem["pieces"]}
    kerf = Fraction(str(problem.get("kerf", 0)))
    cut: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for layout in answer["layouts"]:
        sheet, repeats = sheets[layout["sheet"]], layout["repeats"]
        assert repeats >= 1
        check_layout(sheet, layout, wanted, kerf)
        check_tree(problem, sheet, layout)
        used[sheet["name"]] += repeats
        for piece in layout["pieces"]:
            cut[piece["name"]] += repeats
    if problem["goal"] == "cover":
        for name, piece in wanted.items():
            assert cut[name] == piece["count"], f"{name}: {cut[name]} of {piece['count']}"
        check_money(problem, answer, used)
    else:
        for name, piece in wanted.items():
            assert piece["count"] is None or cut[name] <= piece["count"]
        value = sum(Fraction(str(wanted[n]["value"])) * k for n, k in cut.items())
        assert value == Fraction(str(answer["value"]))


def check_layout(
    sheet: dict[str, Any], layout: dict[str, Any], wanted: dict[str, Any], kerf: Fraction
) -> None:
    """Inside the trimmed sheet, the right size, with the grain, cuttable."""
    trim = Fraction(str(sheet.get("trim", 0)))
    right = Fraction(str(sheet["width"])) - trim
    bottom = Fraction(str(sheet["height"])) - trim
    rects = []
    for placed in layout["pieces"]:
        asked = wanted[placed["name"]]
        size = [Fraction(str(asked["width"])), Fraction(str(asked["height"]))]
        lies = [Fraction(str(placed["width"])), Fraction(str(placed["height"]))]
        if placed["turned"]:
            assert asked.get("turn"), f"{placed['name']} may not be turned"
            size.reverse()
        assert size == lies
        if asked.get("grain") and sheet.get("grain"):
            assert (asked["grain"] == sheet["grain"]) != placed["turned"], "against the grain"
        x1, y1, x2, y2 = rect(placed)
        assert trim <= x1
        assert trim <= y1
        assert x2 <= right
        assert y2 <= bottom
        rects.append((x1, y1, x2, y2))
    assert separable(rects, kerf), "no straight cuts free these pieces"


def inside(node: dict[str, Any]) -> list[tuple[str, Rect]]:
    """The pieces under a node of the tree; a part with a piece is just as large as it."""
    if "piece" in node:
        return [(node["piece"], rect(node))]
    return [found for part in node.get("parts", ()) for found in inside(part)]


def check_tree(problem: dict[str, Any], sheet: dict[str, Any], layout: dict[str, Any]) -> None:
    """The tree frees the very pieces listed, by cuts the cutter can make."""
    tree = layout["tree"]
    trim, kerf = Fraction(str(sheet.get("trim", 0))), Fraction(str(problem.get("kerf", 0)))
    assert rect(tree) == (
        trim, trim, Fraction(str(sheet["width"])) - trim, Fraction(str(sheet["height"])) - trim
    )  # fmt: skip
    assert sorted(inside(tree)) == sorted((p["name"], rect(p)) for p in layout["pieces"])
    longest = problem.get("longest_cut")
    _check_node(tree, kerf, None if longest is None else Fraction(str(longest)))
    while "parts" in tree and len([p for p in tree["parts"] if inside(p)]) == 1:
        tree = next(p for p in tree["parts"] if inside(p))
    if problem.get("stages") is not None:
        assert changes(tree) <= problem["stages"], "the direction of cutting changes too often"


def _check_node(node: dict[str, Any], kerf: Fraction, longest: Fraction | None) -> None:
    if "parts" not in node:
        return
    low, high = (0, 2) if node["cut"] == "down" else (1, 3)
    side = "height" if node["cut"] == "down" else "width"
    assert longest is None or Fraction(str(node[side])) <= longest, "the cutter does not reach"
    whole = rect(node)
    at = whole[low]
    for part in node["parts"]:
        own = rect(part)
        assert own[low] == at
        assert (own[1 - low], own[3 - low]) == (whole[1 - low], whole[3 - low])
        at = own[high] + kerf
        _check_node(part, kerf, longest)
    assert at - kerf <= whole[high] <= at


def changes(node: dict[str, Any]) -> int:
    """How often the direction of cutting changes on the way to a piece, at the most."""
    return max(
        (
            changes(part) + (part.get("cut", node["cut"]) != node["cut"])
            for part in node.get("parts", ())
            if inside(part)
        ),
        default=0,
    )


def check_money(problem: dict[str, Any], answer: dict[str, Any], used: Counter[str]) -> None:
    """Sheets are there or bought in whole packs, within limits, for the money said."""
    sheets = {s["name"]: s for s in problem["sheets"]}
    bought: Counter[str] = Counter()
    spend = Decimal(0)
    for row in answer["buy"]:
        sheet = sheets[row["sheet"]]
        pack = sheet.get("pack", 1)
        assert row["sheets"] == row["packs"] * pack
        assert sheet.get("limit") is None or row["sheets"] <= sheet["limit"]
        assert Decimal(row["cost"]) == Decimal(sheet["price"]) * row["sheets"]
        bought[row["sheet"]] += row["sheets"]
        spend += Decimal(row["cost"])
    assert spend == Decimal(answer["spend"])
    assert {row["sheet"]: row["sheets"] for row in answer["used"]} == dict(used)
    for name, n in used.items():
        assert n <= sheets[name].get("on_hand", 0) + bought[name], f"{name} is not there"
    assert Decimal(answer["bound"]) <= spend
    assert (answer["status"] == "optimal") == (Decimal(answer["bound"]) == spend)

"""Signatures sewn on tapes or with French links, in a case of two boards and a spine piece.

The case is made apart from the block: boards and spine piece pasted to one covering, a joint left
between them for the hinge. A flat back takes a spine piece as wide as the block and both boards, a
rounded one the length of its arc, a third of a circle (Zaehnsdorf 1890, ch. XI); where a back is
backed as well no formula holds, and it is measured. Turn-ins, squares, joints and the reach of
tapes and lining are those of handbooks (Vaughn 1912; Bean 1918; Bailey 1916); other measures
offered first are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from app.core.length import MM
from app.core.structures.advice import fold_advice, grain_advice, length_advice
from app.core.structures.base import (
    Build,
    Dimension,
    Dims,
    Flat,
    Operation,
    PaperFacts,
    Role,
    Structure,
    upright_folds,
)
from app.core.structures.boards import (
    BOARD_SQUARE,
    BOARDS,
    PASTE,
    TURN_IN,
    paste_mg,
    turn_in_advice,
)
from app.core.structures.case_advice import back_advice, case_advice
from app.core.structures.case_steps import Sewn, case_steps
from app.core.structures.cases import (
    REACH_NM,
    SHORTER_NM,
    arc_nm,
    case_flats,
    ribbon_nm,
    rise_nm,
)
from app.core.structures.common import (
    AWLS,
    BLADES,
    CUT,
    FINISH,
    FOLD,
    LAWS,
    LEAF,
    LEAF_STAIRS,
    LEAVES,
    PASTES,
    PUNCH,
    SEW,
    SPINE_STEP,
    SPINE_STEPS,
    SWELL,
    TAILS,
    THREAD,
    folio_pieces,
    folios,
    numbers,
    piece_of,
    round_up,
    signatures,
    trimmed,
)
from app.core.structures.gathering import Gathering, gather
from app.core.structures.insert_kinds import TIP, inserts_of
from app.core.structures.tapes import LINK, SEWING, TAPES, tape_advice, tape_path, tape_stations
from app.core.structures.words import altered
from app.core.structures.wrap_cover import signatures_in_words
from app.language import say, to_say

KEY = "case_bound"
FLAT, ROUNDED = "flat", "rounded"


def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
    """Work out one book; ``papers`` has ``leaves``, ``endpapers``, ``boards``, ``spine_piece``,
    ``covering`` and ``lining``."""
    n = numbers(dims, DIMENSIONS)
    sewn, rounded = str(dims["sewn"]), dims["back"] == ROUNDED
    gathering = gather(dims, n, papers, tape_stations(n))
    # The back holds what is sewn and tipped in, and a folded sheet at each end: four leaves more.
    tipped = sum(i.bulk_nm for i in inserts_of(dims, papers) if i.how == TIP)
    bound, ends = replace(gathering, laid_in_nm=tipped), 4 * papers["endpapers"].caliper_nm
    block, caliper = bound.block_nm + ends, papers["boards"].caliper_nm
    back = n["back_measured"] or (arc_nm(block) if rounded else block)
    spine = back if rounded else back + 2 * caliper
    if not n["back_measured"]:
        spine = round_up(spine, SPINE_STEPS[str(dims["spine_step"])])
    rise = rise_nm(block) if rounded else 0
    board, strip, covering = case_flats(n, spine)
    endpaper = Flat(
        key="endpaper", name=say("One endpaper laid flat"), stock="leaf",
        width_nm=2 * n["leaf_width"], height_nm=n["leaf_height"],
        folds=upright_folds([n["leaf_width"]], n["leaf_height"]), grain="height", count=2,
    )  # fmt: skip
    lining = Flat(
        key="lining", name=say("Lining of the back"), stock="leaf",
        width_nm=back + 2 * REACH_NM,
        height_nm=n["leaf_height"] - min(SHORTER_NM, n["leaf_height"] // 4), grain="height",
    )  # fmt: skip
    thread = tape_path(n, gathering, sewn)
    stands = n["joint"] - caliper - n["board_in"]
    cover_nm = papers["covering"].caliper_nm
    advice = [*tape_advice(n, gathering.at), *case_advice(n, caliper, stands)]
    advice += back_advice(n["back_measured"], bound.leaves_nm + ends, block, rounded=rounded)
    advice += [*turn_in_advice(n["turn_in"], caliper), *fold_advice(n, gathering)]
    advice += [*length_advice((thread,)), *grain_advice(dims, gathering, leaf_grain="leaves")]
    # Half of each endpaper is pasted down, the back is glued up before it is lined.
    pasted = endpaper.width_nm * endpaper.height_nm + covering.width_nm * covering.height_nm
    pasted += lining.width_nm * lining.height_nm + back * n["leaf_height"]
    return Build(
        structure=KEY,
        made_of=say("{signatures} in a case", signatures=signatures_in_words(gathering)),
        leaves=gathering.leaves,
        pieces=folio_pieces(gathering) | {
            "endpapers": (piece_of(endpaper),), "boards": (piece_of(board),),
            "spine_piece": (piece_of(strip, "spine piece"),),
            "covering": (piece_of(covering),), "lining": (piece_of(lining),),
        },
        lengths={"thread": thread.length_nm} | _reels(n, sewn, back),
        counts={},
        amounts={"paste": paste_mg(pasted)},
        operations=_operations(n, gathering, rounded=rounded),
        flats=(board, strip, covering, *gathering.flats, endpaper, lining),
        thread=(thread,),
        thickness_nm=gathering.block_nm + ends + 2 * caliper + 4 * cover_nm,
        fore_edge_nm=gathering.leaves_nm
        + 4 * papers["endpapers"].caliper_nm + 2 * caliper + 4 * cover_nm,
        closed_width_nm=n["leaf_width"] + max(stands, 0) + papers["spine_piece"].caliper_nm
        + cover_nm + rise,
        closed_height_nm=board.height_nm,
        creep_nm=gathering.creep_nm,
        advice=tuple(advice),
        steps=case_steps(
            n, gathering, (board, strip, covering, endpaper, lining),
            Sewn(
                thread, n["tapes"] if sewn != LINK else 0, sewn != TAPES, back,
                arc_nm(block) if rounded else 0, rise,
            ),
        ),
    )  # fmt: skip


def _reels(n: Mapping[str, int], sewn: str, back_nm: int) -> dict[str, int]:
    """Tapes, headbands and ribbons, by role."""
    return {
        "tape": 0 if sewn == LINK else n["tapes"] * (back_nm + 2 * REACH_NM),
        "headband": n["headbands"] * back_nm,
        "ribbon": n["ribbons"] * ribbon_nm(n),
    }


def _operations(n: Mapping[str, int], gathering: Gathering, *, rounded: bool) -> dict[str, int]:
    many, stations = n["signatures"], len(gathering.at)
    return {
        "cut": gathering.folios + 2 + 2 + 1 + 1 + 1 + trimmed(gathering),
        "fold": gathering.folios + 2,
        "punch": many * stations,
        "sew": many * stations,
        "back": 1,
        **({"round_back": 1} if rounded else {}),
        "case": 1,
        "case_in": 1,
        "finish": 1,
    }


DIMENSIONS = (
    *LEAF,
    signatures(8, least=2),
    folios(),
    altered(SWELL, default=10),
    *SEWING,
    altered(TAILS, default=100 * MM),
    Dimension(
        "back",
        to_say("Back"),
        to_say("Case"),
        "choice",
        FLAT,
        choices=((FLAT, to_say("flat")), (ROUNDED, to_say("rounded to a third of a circle"))),
    ),
    Dimension(
        "back_measured",
        to_say("Back, measured"),
        to_say("Case"),
        "length",
        0,
        0,
        300 * MM,
        help=to_say(
            "Over the back from edge to edge, once it is rounded or backed; 0 to have it worked "
            "out."
        ),
    ),
    altered(SPINE_STEP, group=to_say("Case"), help=to_say("What it is rounded up to.")),
    altered(BOARD_SQUARE, group=to_say("Case")),
    Dimension(
        "board_in",
        to_say("Boards narrower than the leaf"),
        to_say("Case"),
        "length",
        3 * MM,
        -20 * MM,
        60 * MM,
        help=to_say("The joint puts them so far out that a square is left at the fore edge."),
    ),
    Dimension(
        "joint",
        to_say("Joint"),
        to_say("Case"),
        "length",
        8 * MM,
        MM,
        60 * MM,
        help=to_say("Between a board and the spine piece: the hinge."),
    ),
    altered(
        TURN_IN,
        group=to_say("Case"),
        least=5 * MM,
        help=to_say("How far the covering goes round the edges."),
    ),
    Dimension("headbands", to_say("Headbands"), to_say("Case"), "count", 2, 0, 2),
    Dimension("ribbons", to_say("Ribbon markers"), to_say("Case"), "count", 0, 0, 3),
)

STRUCTURE = Structure(
    key=KEY,
    name=to_say("Case binding, flat or rounded back"),
    says=to_say(
        "Signatures sewn on tapes or with French links, in a case made apart: boards, spine "
        "piece and covering."
    ),
    dimensions=DIMENSIONS,
    roles=(
        LEAVES,
        Role("endpapers", to_say("Paper of the endpapers"), "sheet"),
        BOARDS,
        Role("spine_piece", to_say("Card of the spine piece"), "sheet"),
        Role("covering", to_say("Cloth or paper of the case"), "sheet"),
        Role("lining", to_say("Mull or thin cloth for the back"), "sheet"),
        THREAD,
        Role("tape", to_say("Tape"), "length"),
        Role("headband", to_say("Headband"), "length"),
        Role("ribbon", to_say("Ribbon marker"), "length"),
        PASTE,
    ),
    operations=(
        CUT,
        FOLD,
        PUNCH,
        SEW,
        Operation(
            "back",
            to_say("Glue up and line the back"),
            "book",
            Fraction(5),
            Fraction(8),
            Fraction(4),
        ),
        Operation("round_back", to_say("Round the back"), "book", Fraction(3), Fraction(4)),
        Operation("case", to_say("Make the case"), "case", Fraction(6), Fraction(14), Fraction(12)),
        Operation(
            "case_in", to_say("Case in and press"), "book", Fraction(4), Fraction(6), Fraction(12)
        ),
        FINISH,
    ),
    build=build,
    cautions=(BLADES, AWLS, PASTES, LAWS),
    stairs_keys=LEAF_STAIRS,
)

"""Layouts as a person cuts them: tidied, numbered, and with every bit of area accounted for."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cut_sequence import account, cut_steps, tidied
from app.core.cutting.cutter import Cutter
from app.core.cutting.one_sheet.unlimited import Lying, best_layout
from app.core.cutting.one_sheet.yields import yield_of
from app.core.cutting.tree import Layout
from app.core.length import MM
from app.core.paper import Piece, Sheet
from tests.core.brute_force import check_layout


def test_whole_width_cuts_come_first_and_equal_settings_together() -> None:
    found = yield_of(
        Piece("folio", 240 * MM, 160 * MM, 1, "height"),
        Sheet("s", 560 * MM, 760 * MM, "height"),
    )
    steps = cut_steps(found.layout, 12, Cutter(lift=25))
    said = [(s.number, s.cut, s.setting_nm // MM, s.length_nm // MM, s.cuts, s.parts, s.strokes)
            for s in steps]  # fmt: skip
    # 4 rows of 2: four cuts at 160 right across 12 sheets in one lift; then the 48 strips lie in
    # two lifts of at most 25 and get two cuts each.
    assert said == [(1, "across", 160, 560, 4, 1, 4), (2, "down", 240, 160, 2, 4, 4)]
    assert [len(s.lines) for s in steps] == [4, 8]
    assert steps[0].lines[0] == (0, 160 * MM, 560 * MM, 160 * MM)


@settings(max_examples=60)
@given(
    st.integers(20, 90), st.integers(20, 90), st.integers(0, 2), st.integers(0, 3),
    st.integers(1, 40), st.integers(1, 9),
    st.lists(st.tuples(st.integers(6, 50), st.integers(6, 50), st.integers(1, 99)),
             min_size=1, max_size=4),
)  # fmt: skip
def test_tidying_keeps_pieces_cuts_and_area(
    width: int, height: int, kerf: int, trim: int, repeats: int, lift: int,
    rows: list[tuple[int, int, int]],
) -> None:  # fmt: skip
    lying = [Lying(f"{i}", a, b, v) for i, (a, b, v) in enumerate(rows)]
    tree = best_layout(width, height, lying, Cutter(kerf), (trim, trim)).tree
    before = Layout(width + 2 * trim, height + 2 * trim, trim, tree)
    after = Layout(before.width_nm, before.height_nm, trim, tidied(tree, kerf))
    sizes = {(a, b) for a, b, _ in rows}
    check_layout(after, sizes, kerf)

    def names(layout: Layout) -> list[str]:
        return sorted(p.name for p in layout.pieces)

    assert names(after) == names(before)
    assert after.cuts <= before.cuts
    steps = cut_steps(after, repeats, Cutter(kerf, lift=lift))
    assert [s.number for s in steps] == list(range(1, len(steps) + 1))
    assert sum(s.cuts * s.parts for s in steps) == after.tree.cuts()
    assert sum(len(s.lines) for s in steps) == after.tree.cuts()
    for step in steps:
        assert step.strokes == step.cuts * -(-step.parts * repeats // lift)
    book = account(after, (10, 10))
    assert book.pieces + book.offcuts + book.waste == before.width_nm * before.height_nm
    assert book.waste >= 0
    assert book.times(3) == book + book + book

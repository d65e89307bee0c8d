"""Cutting questions by themselves: ``tallyfold cut`` and ``tallyfold yield``; no shop is needed."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from app.cli.refusing import refuse
from app.core.errors import DomainError
from app.core.length import show_size

UNIT = click.Choice(["mm", "in"])
LONGEST_FILE = 4_000_000


@click.command()
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
def cut(file: Path) -> None:
    """Solve the cutting problem in FILE (JSON; - reads standard input).

    \b
    {"unit": "mm", "goal": "cover",
     "sheets": [{"name": "half", "width": 560, "height": 760, "grain": "height",
                 "price": "4.60", "pack": 10, "on_hand": 3}],
     "pieces": [{"name": "folio", "width": 240, "height": 160, "count": 96,
                 "grain": "height", "turn": true}]}

    \b
    goal     "cover" cuts every count for the least money; "fill" puts the most value on
             one sheet (every piece has a "value", "count" is its limit, null for none).
    grain    the side the fibres run along; null where it does not matter.
    lengths  numbers in the unit, or strings such as "7 1/2 in".

    The answer is JSON: "optimal" where nothing costs less, else "feasible" with the least that
    any plan could cost as "bound". A problem that makes no sense ends with status 2 and one line
    that names the place.
    """
    from app.core.cutting.json_answer import answer
    from app.core.cutting.json_problem import read_problem
    from app.units import parse_length

    try:
        if str(file) == "-":
            text = sys.stdin.read(LONGEST_FILE + 1)
        else:
            with file.open(encoding="utf-8") as stream:
                text = stream.read(LONGEST_FILE + 1)
    except (OSError, UnicodeDecodeError) as error:
        refuse(f"{file}: cannot be read ({getattr(error, 'strerror', None) or 'not UTF-8 text'})")
    if len(text) > LONGEST_FILE:
        refuse(f"{file}: larger than 4 MB")
    result = answer(read_problem(text, parse_length))
    click.echo(json.dumps(result, indent=1))


@click.command(name="yield")
@click.option(
    "--sheet", required=True, help="The parent sheet, WIDTHxHEIGHT: 560x760, '22 in x 30 in'."
)
@click.option("--piece", required=True, help="The piece to cut, WIDTHxHEIGHT.")
@click.option("--unit", type=UNIT, default="mm", show_default=True, help="Of bare numbers.")
@click.option(
    "--sheet-grain", type=click.Choice(["width", "height"]), help="Side the fibres run along."
)
@click.option(
    "--piece-grain", type=click.Choice(["width", "height"]), help="Side they must run along."
)
@click.option(
    "--no-turn", is_flag=True, help="Never turn a piece (a pattern fixes which way is up)."
)
@click.option("--trim", default="0", help="Cut off every edge of the sheet first.")
@click.option("--kerf", default="0", help="Lost in each cut.")
@click.option("--longest-cut", help="The longest cut the trimmer makes.")
@click.option("--stages", type=click.IntRange(0), help="Most changes of cutting direction.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def yield_(
    sheet: str,
    piece: str,
    unit: str,
    sheet_grain: str | None,
    piece_grain: str | None,
    no_turn: bool,  # noqa: FBT001
    trim: str,
    kerf: str,
    longest_cut: str | None,
    stages: int | None,
    as_json: bool,  # noqa: FBT001
) -> None:
    """Say how many pieces one sheet gives: by a plain grid, and by the best straight cuts."""
    from app.core.cutting.cutter import Cutter
    from app.core.cutting.one_sheet.yields import yield_of
    from app.core.paper import Piece, Sheet, check_sheet
    from app.units import parse_length

    width, height = _sides(sheet, unit, "--sheet")
    parent = Sheet(
        show_size(width, height, unit), width, height, sheet_grain,
        trim_nm=parse_length(trim, unit),
    )  # fmt: skip
    check_sheet(parent)
    lost = parse_length(kerf, unit)
    if lost < 0:
        raise DomainError("--kerf cannot be below zero.")
    longest = None if longest_cut is None else parse_length(longest_cut, unit)
    if longest is not None and longest <= 0:
        raise DomainError("--longest-cut must be above zero.")
    wanted = Piece("piece", *_sides(piece, unit, "--piece"), 1, piece_grain, not no_turn)
    found = yield_of(wanted, parent, Cutter(lost, longest, stages))
    used, whole = found.used_share
    if as_json:
        data: dict[str, Any] = {
            "grid": found.grid, "best": found.best, "by_area": found.by_area,
            "cuts": found.layout.cuts, "used": f"{used / whole:.4f}",
        }  # fmt: skip
        click.echo(json.dumps(data))
        return
    size = show_size(wanted.width_nm, wanted.height_nm, unit)
    click.echo(f"{found.best} of {size} from a {parent.name} sheet, in {found.layout.cuts} cuts.")
    click.echo(
        f"A plain grid gives {found.grid}; by area alone it could not be over {found.by_area}."
    )
    click.echo(f"{used * 100 // whole}% of the sheet is used.")


def _sides(text: str, unit: str, option: str) -> tuple[int, int]:
    from app.units import parse_size

    try:
        return parse_size(text, unit)
    except DomainError as error:
        raise DomainError(f"{option}: {error.message}") from None

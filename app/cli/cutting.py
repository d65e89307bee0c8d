"""Cutting questions by themselves: ``tallyfold cut`` and ``tallyfold yield``; no shop is needed."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from app.cli.refusing import refuse
from app.cli.spoken import command, option
from app.core.errors import DomainError
from app.core.length import show_size
from app.language import say, say_many, to_say

UNIT = click.Choice(["mm", "in"])
LONGEST_FILE = 4_000_000


HOW_TO_ASK = to_say(
    """Solve the cutting problem in FILE (JSON; - reads standard input).

    ::
    {"unit": "mm", "goal": "cover",
     "sheets": [{"name": "half", "width": 560, "height": 760, "grain": "height",
                 "price": "4.60", "pack": 10, "on_hand": 3}],
     "pieces": [{"name": "folio", "width": 240, "height": 160, "count": 96,
                 "grain": "height", "turn": true}]}

    ::
    goal     "cover" cuts every count for the least money; "fill" puts the most value on
             one sheet (every piece has a "value", "count" is its limit, null for none).
    grain    the side the fibres run along; null where it does not matter.
    lengths  numbers in the unit, or strings such as "7 1/2 in".

    The answer is JSON: "optimal" where nothing costs less, else "feasible" with the least that
    any plan could cost as "bound". A problem that makes no sense ends with status 2 and one line
    that names the place."""
)


@command(help=HOW_TO_ASK)
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
def cut(file: Path) -> None:
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
        why = getattr(error, "strerror", None) or say("not UTF-8 text")
        refuse(say("{file}: cannot be read ({why})", file=file, why=why))
    if len(text) > LONGEST_FILE:
        refuse(say("{file}: larger than 4 MB", file=file))
    result = answer(read_problem(text, parse_length))
    click.echo(json.dumps(result, indent=1))


@command(
    "yield",
    help=to_say(
        "Say how many pieces one sheet gives: by a plain grid, and by the best straight cuts."
    ),
)
@option(
    "--sheet",
    required=True,
    help=to_say("The parent sheet, WIDTHxHEIGHT: 560x760, '22 in x 30 in'."),
)
@option("--piece", required=True, help=to_say("The piece to cut, WIDTHxHEIGHT."))
@option("--unit", type=UNIT, default="mm", show_default=True, help=to_say("Of bare numbers."))
@option(
    "--sheet-grain",
    type=click.Choice(["width", "height"]),
    help=to_say("Side the fibres run along."),
)
@option(
    "--piece-grain",
    type=click.Choice(["width", "height"]),
    help=to_say("Side they must run along."),
)
@option(
    "--no-turn", is_flag=True, help=to_say("Never turn a piece (a pattern fixes which way is up).")
)
@option("--trim", default="0", help=to_say("Cut off every edge of the sheet first."))
@option("--kerf", default="0", help=to_say("Lost in each cut."))
@option("--longest-cut", help=to_say("The longest cut the trimmer makes."))
@option("--stages", type=click.IntRange(0), help=to_say("Most changes of cutting direction."))
@option("--json", "as_json", is_flag=True, help=to_say("Print JSON."))
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
        raise DomainError(say("{name} cannot be below zero.", name="--kerf"))
    longest = None if longest_cut is None else parse_length(longest_cut, unit)
    if longest is not None and longest <= 0:
        raise DomainError(say("{name} must be above zero.", name="--longest-cut"))
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
    click.echo(
        say_many(
            found.layout.cuts,
            "{best} of {size} from a {sheet} sheet, in {n} cut.",
            "{best} of {size} from a {sheet} sheet, in {n} cuts.",
            best=found.best, size=size, sheet=parent.name,
        )
    )  # fmt: skip
    click.echo(
        say(
            "A plain grid gives {grid}; by area alone it could not be over {most}.",
            grid=found.grid, most=found.by_area,
        )
    )  # fmt: skip
    click.echo(say("{share}% of the sheet is used.", share=used * 100 // whole))


def _sides(text: str, unit: str, option: str) -> tuple[int, int]:
    from app.units import parse_size

    try:
        return parse_size(text, unit)
    except DomainError as error:
        raise DomainError(f"{option}: {error.message}") from None

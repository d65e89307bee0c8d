"""A few strokes of SVG: shapes, words and dimension lines, styled by class alone.

Colours come from the page's stylesheet, so that a drawing follows the light and the dark
scheme and prints black. Coordinates are pixels; drawings scale millimetres to them.
"""

from __future__ import annotations

from html import escape

ARROW = 4


def number(value: float) -> str:
    """A coordinate, to a hundredth of a pixel."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


class Canvas:
    """Collects shapes and closes them into one picture with a title and a description."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.shapes: list[str] = []

    def rect(self, x: float, y: float, width: float, height: float, css: str) -> None:
        """A rectangle from its top left corner."""
        self.shapes.append(
            f'<rect class="{css}" x="{number(x)}" y="{number(y)}" '
            f'width="{number(width)}" height="{number(height)}"/>'
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, css: str) -> None:
        """A straight stroke."""
        self.shapes.append(
            f'<line class="{css}" x1="{number(x1)}" y1="{number(y1)}" '
            f'x2="{number(x2)}" y2="{number(y2)}"/>'
        )

    def dot(self, x: float, y: float, radius: float, css: str) -> None:
        """A round mark."""
        self.shapes.append(
            f'<circle class="{css}" cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"/>'
        )

    def path(self, points: list[tuple[float, float]], css: str) -> None:
        """A polyline."""
        joined = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        self.shapes.append(f'<polyline class="{css}" points="{joined}"/>')

    def shape(self, points: list[tuple[float, float]], css: str) -> None:
        """A closed outline."""
        joined = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        self.shapes.append(f'<polygon class="{css}" points="{joined}"/>')

    def words(self, x: float, y: float, text: str, css: str = "", *, upright: bool = False) -> None:
        """Words centred on a point; ``upright`` ones are turned to read from below."""
        turn = f' transform="rotate(-90 {number(x)} {number(y)})"' if upright else ""
        self.shapes.append(
            f'<text class="{css}" x="{number(x)}" y="{number(y)}"{turn}>{escape(text)}</text>'
        )

    def level_measure(self, x1: float, x2: float, y: float, text: str) -> None:
        """A level dimension line with ticks and its length written below."""
        self.line(x1, y, x2, y, "measure")
        for x in (x1, x2):
            self.line(x, y - ARROW, x, y + ARROW, "measure")
        self.words((x1 + x2) / 2, y + 14, text, "figure")

    def upright_measure(self, x: float, y1: float, y2: float, text: str) -> None:
        """An upright dimension line with ticks and its length written beside it."""
        self.line(x, y1, x, y2, "measure")
        for y in (y1, y2):
            self.line(x - ARROW, y, x + ARROW, y, "measure")
        self.words(x - 7, (y1 + y2) / 2, text, "figure", upright=True)

    def grain_arrow(self, x: float, y: float, length: float, *, level: bool) -> None:
        """A double arrow along the fibres."""
        half = length / 2
        ends = [(x - half, y), (x + half, y)] if level else [(x, y - half), (x, y + half)]
        self.line(*ends[0], *ends[1], "grain")
        for (ex, ey), sign in zip(ends, (1, -1), strict=True):
            a, b = sign * ARROW * 1.5, ARROW
            tips = (
                [(ex + a, ey - b), (ex + a, ey + b)]
                if level
                else [(ex - b, ey + a), (ex + b, ey + a)]
            )
            self.path([tips[0], (ex, ey), tips[1]], "grain")

    def ornament(self, css: str) -> str:
        """The picture for the eye alone: the words beside it say the same."""
        return (
            f'<svg class="{css}" viewBox="0 0 {number(self.width)} {number(self.height)}" '
            f'width="{number(self.width)}" height="{number(self.height)}" aria-hidden="true" '
            'focusable="false">' + "".join(self.shapes) + "</svg>"
        )

    def picture(self, key: str, title: str, says: str) -> str:
        """The finished picture; ``key`` makes its ids its own on a page."""
        return (
            f'<svg class="drawing" viewBox="0 0 {number(self.width)} {number(self.height)}" '
            f'width="{number(self.width)}" height="{number(self.height)}" role="img" '
            f'aria-labelledby="{key}-title {key}-says">'
            f'<title id="{key}-title">{escape(title)}</title>'
            f'<desc id="{key}-says">{escape(says)}</desc>' + "".join(self.shapes) + "</svg>"
        )

"""Corners, edges and stamping on the design page, its steps and its templates."""

from __future__ import annotations

import re

from tests.web.journals.test_parts import worked_out
from tests.web.visitor import Visitor


def test_rounded_corners_are_drawn_costed_and_templated(stocked: Visitor) -> None:
    page = stocked.get("/journals/1")
    before = worked_out(stocked, page, {})
    typed = {"corners": "rounded", "corner_size": "8 mm", "edges": "all", "stamped": "1"}
    live = worked_out(stocked, page, typed)
    assert live["errors"] == {}
    assert live["answer"] != before["answer"]
    page = stocked.send(page, "leaf_height", typed | {"+keep": "1"})
    assert "Saved as design" in page.said
    assert (page.value("corners"), page.value("corner_size")) == ("rounded", "8 mm")
    steps = stocked.get("/journals/1/variants/1/steps").words
    assert (
        "round the two fore-edge corners of each signature, one signature at a time to a radius of 8"
        in (steps)
    )
    assert "Stamp the cover once" in steps
    assert "A heated type or die burns" in steps
    for key in ("cover", "folio"):
        template = stocked.client.get(f"/journals/1/variants/1/templates/{key}.svg").get_data(
            as_text=True
        )
        [points] = re.findall(r'class="outline" points="([^"]+)"', template)
        places = [tuple(map(float, point.split(","))) for point in points.split()]
        assert len(places) > 20
        # The arc begins 8 mm from the corner, to a tenth of a millimetre.
        assert min(abs(x - 0) + abs(y - 8) for x, y in places) < 0.1
        assert min(x + y for x, y in places) > 4


def test_too_large_a_corner_is_told_at_its_field(stocked: Visitor) -> None:
    page = stocked.get("/journals/1")
    wrong = {"corners": "clipped", "corner_size": "60 mm", "leaf_width": "100 mm"}
    live = worked_out(stocked, page, wrong)
    assert "half the shorter side" in str(dict(live["errors"])["corner_size"])  # type: ignore[call-overload]
    refused = stocked.send(page, "leaf_height", wrong | {"+keep": "1"}, 422)
    assert refused.value("corner_size") == "60 mm"
    # A group with something to mend in it stands open.
    assert re.search(r'<details class="group" open[^>]*><summary><h2>Finish</h2>', refused.text)
    fine = stocked.get("/journals/1").text
    assert re.search(r'<details class="group"(?! open)[^>]*><summary><h2>Finish</h2>', fine)

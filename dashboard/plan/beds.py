"""What lies within reach of the beds of the selected unit, for the plan and for the panel. Pure."""

from __future__ import annotations

from typing import Any

from spread.contacts.bed import OUTSIDE, bed_reach
from spread.plan.model import Plan
from spread.words import ENGLISH, Voice
from spread.words.room import bed_words


def beds_of(plan: Plan, unit: str, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return the beds of a unit as JSON: ``{"unit", "radius", "beds", "words"}``.

    Each bed has ``floor``, ``at`` (x, y in metres, y downwards as the drawing has it), ``walls`` (a list
    of [x1, y1, x2, y2]), ``risers`` and ``outlets`` (lists of [x, y]). Outside walls lead to nobody and
    are left out, as they are in ``words``: a sentence a bed, or how to place one where none is known.
    """
    reach = bed_reach(plan, unit)
    beds = [
        {
            "floor": bed["floor"],
            "at": [bed["x"], -bed["y"]],
            "walls": [
                [x1, -y1, x2, -y2]
                for wall in bed["walls"]
                if wall["to"] != OUTSIDE
                for (x1, y1), (x2, y2) in wall["segments"]
            ],
            "risers": [[riser["x"], -riser["y"]] for riser in bed["risers"]],
            "outlets": [[outlet["x"], -outlet["y"]] for outlet in bed["outlets"]],
        }
        for bed in reach["beds"]
    ]
    how = voice.text(
        "No bed is known here. To see which walls, risers and outlets are within reach of it, place "
        "it on the page where the plan is changed."
    )
    words = list(bed_words(reach, voice)) or [how]
    return {"unit": unit, "radius": reach["radius_m"], "beds": beds, "words": words}

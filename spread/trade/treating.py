"""What a treatment visit takes: minutes, sizes, materials, what residents prepare, what to be careful of.

Each line with its source, or marked as common practice. No line states a dose, a mixture or a rate: the
label of the product does, and using a product against its label is unlawful.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from spread.trade.registry import TREATMENTS
from spread.trade.sources import COMMON_PRACTICE, Line, judged

_MINUTES = "minutes per visit"
_JUDGED = "judgement; no timed study found"

MINUTES = MappingProxyType(
    {
        "trace": judged(60.0, 30.0, 120.0, _MINUTES, _JUDGED),
        "low": judged(60.0, 30.0, 120.0, _MINUTES, _JUDGED),
        "moderate": judged(120.0, 60.0, 240.0, _MINUTES, _JUDGED),
        "heavy": judged(240.0, 120.0, 480.0, _MINUTES, _JUDGED),
    }
)
"""Minutes of one treatment visit of a unit by level, one technician."""

PRODUCT_FROM = 12
"""Bugs above which trials added a labelled product; at 1-12 work without products was as fast
(Singh et al. 2017, doi 10.3390/insects8030076)."""
_S17 = "Singh et al. 2017, doi 10.3390/insects8030076"
PRODUCT_SOURCE = (_S17, f"{_S17}; resistance: Yu et al. 2023, doi 10.3390/insects14020133")
"""Where it is from that work without a product does, and that one was added."""


@dataclass(frozen=True, slots=True)
class MattressSize:
    """A standard size of mattress: width and length, by which encasements are sold; depth is measured."""

    #: code, name: As it is written in commands, and what it is called
    code: str
    name: str
    inches: tuple[float, float]  #: Width and length
    supports: int  #: Legs and centre supports that a common frame of it has: as many interceptors

    @property
    def metres(self) -> tuple[float, float]:
        """Width and length in metres, to the centimetre."""
        width, length = self.inches
        return round(width * 0.0254, 2), round(length * 0.0254, 2)


SIZES = {
    size.code: size
    for size in (
        MattressSize("crib", "Crib", (28.0, 52.0), 4),
        MattressSize("twin", "Twin", (38.0, 75.0), 4),
        MattressSize("twin-xl", "Twin XL", (38.0, 80.0), 4),
        MattressSize("full", "Full", (54.0, 75.0), 4),
        MattressSize("queen", "Queen", (60.0, 80.0), 6),
        MattressSize("king", "King", (76.0, 80.0), 6),
        MattressSize("california-king", "California king", (72.0, 84.0), 6),
    )
}
"""Sizes sold in North America; sizes and supports are common practice, no source: measure before ordering."""
SOFA_SUPPORTS = 4  #: Legs of a sofa or chair (common practice, no source)

_EPA = "EPA preparation text (second-hand)"
_NPMA = "NPMA Best Management Practices 2016"
_NB10 = "Naylor and Boase 2010, doi 10.1603/EC09288"
_MM11 = "CDC 2011, MMWR 60(37):1269"
_JB12 = "Jones and Bryant 2012, doi 10.1603/EC12037"

PREPARE = (
    Line("Leave everything in the room it is in until the technician says otherwise.", COMMON_PRACTICE),
    Line(
        "Put bedding and the clothes by the bed into closed bags in the room; wash at 60 C (140 F), "
        "or dry hot for 30 minutes or longer, and put them into clean bags.",
        _NB10,
    ),
    Line("Clear the floor under the beds and half a metre (20 inches) along the walls.", _EPA),
    Line("Pull the bed 15 cm (6 inches) from the wall; let no bedding touch the floor.", _EPA),
    Line("Say where in the home people sleep, sofas too.", COMMON_PRACTICE),
    Line("Take pets, their bowls and their beds out of the rooms if a product is used.", _EPA),
    Line("Say so if this is hard to do: help with it is part of the work.", _NPMA + ", 8.3.1.2"),
)
"""What a resident prepares. Short on purpose: long lists weigh on old and disabled people and spread bugs
as things move (USDA NIFA project 1001163)."""
PREPARE_ALSO = tuple(dict.fromkeys(line for row in TREATMENTS.values() for line in row.prepare))
"""What some methods ask for besides."""

MUST_NOT = (
    Line("Do not carry things to other rooms, to the hallway or to neighbours, or sleep elsewhere.", _EPA),
    Line(
        "No foggers or bug bombs: they hardly touch the bugs, drive them about and can explode.",
        f"{_JB12}; driving about and explosions: second-hand",
    ),
    Line("No sprays or powders of your own: people fell ill from them.", _MM11),
    Line("No alcohol, petrol, kerosene or open flame; no heaters to heat a room.", COMMON_PRACTICE),
    Line("Throw no furniture away unless the technician says so; it is seldom needed.", _NPMA),
    Line("Do not take off encasements or move interceptors.", _EPA),
)
"""What a resident must not do."""

CAUTIONS = (
    Line(
        "Give notice as the local rule asks, knock, say who you are, show papers. No entry without leave or "
        "lawful notice; tell neighbours an inspection is due and not who reported.",
        f"{COMMON_PRACTICE}; check your local code",
        "Entering",
    ),
    *dict.fromkeys(line for row in TREATMENTS.values() for line in row.cautions),
    Line(
        "Two people for box springs and sofas. See that no oxygen line or cable runs through the bed.",
        "NIOSH 94-110 (lifting), from memory",
        "Lifting",
    ),
    Line(
        "Wrap or bag before anything is moved; what goes out is marked and made useless, as the local "
        "rule for bulky waste says.",
        "pctonline.com; Chicago municipal code",
        "Disposal",
    ),
    Line(
        "Gloves, knee pads, a light; coverall and shoe covers in heavy units. Look at yourself and the bag "
        "before the next door; go from clean units to infested ones within a shift.",
        COMMON_PRACTICE,
        "Yourself",
    ),
)
"""What to be careful of, by topic; those of a method stand in its row of the registry."""

LABEL = Line(
    "The label is the law: product, place, amount, protection and time of return are as it says, and nothing "
    "here replaces it.",
    "FIFRA section 12(a)(2)(G), 7 USC 136j, from memory",
    "Label",
)
VACUUM_BAG = Line(
    "Close the vacuum's bag and take it out of the building at once.", COMMON_PRACTICE, "Vacuum"
)

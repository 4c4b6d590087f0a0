"""The words and figures that people see: chance classes, methods, kinds."""

from __future__ import annotations

from spread.words.voice import Voice

CLASS_FLOORS = (0.0, 0.03, 0.06, 0.10, 0.25, 0.50)
"""Lowest chance of each class. Units that nobody has looked at for long rest at 4 to 10%: the lower classes
are narrow enough that a building of such units is not all one colour, and 10% is about what was found over
all units of such buildings (Wang et al. 2016: 12%)."""

CLASS_WORDS = ("very low", "low", "some", "raised", "high", "very high")
CLASS_SPANS = ("under 3%", "3 to 6%", "6 to 10%", "10 to 25%", "25 to 50%", "50% or more")


def chance_class(chance: float) -> int:
    """Return the class of a chance, 0 (very low) to 5 (very high).

    It goes by the whole percentage that is shown, so that two units that read ``5%`` look alike.
    """
    shown = round(chance * 100)
    return max(
        index for index, lowest in enumerate(CLASS_FLOORS) if shown >= round(lowest * 100) or index == 0
    )


def chance_name(chance: float, voice: Voice) -> str:
    """Return what the class of a chance is called, such as ``raised``."""
    return voice.term("chance", CLASS_WORDS[chance_class(chance)])


def floor_name(name: str, voice: Voice) -> str:
    """Return a floor's name in a person's language, as :func:`floor_title`."""
    return voice.text("Floor {name}", name=name) if floor_title(name) != name else name


def floor_title(name: str) -> str:
    """Return a floor's name as people say it: ``Floor 3`` for ``3``, any other name as it is."""
    return f"Floor {name}" if len(name) <= 3 and " " not in name else name


def one_or_many(number: int, one: str, many: str) -> str:
    """Return ``no doors``, ``1 door`` or ``3 doors``."""
    return f"{number or 'no'} {one if number == 1 else many}"

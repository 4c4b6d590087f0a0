"""What to bring to a treatment: encasements by size, an interceptor under every support, bags."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from spread.errors import Problem, SettingsError
from spread.records.sense import guess
from spread.trade import treating
from spread.trade.sources import COMMON_PRACTICE
from spread.trade.treating import MattressSize

MOST_BEDS = 12
"""Beds of one unit; more are something else."""


@dataclass(frozen=True, slots=True)
class Material:
    """What to bring; ``count`` is None where it has to be seen there.

    Parameters
    ----------
    name
        What it is.
    count
        How many, or None where it has to be seen there.
    words
        What it is for, or how it was counted.
    source
        Where the count is from.
    """

    name: str
    count: int | None
    words: str
    source: str = COMMON_PRACTICE


def read_beds(text: str, *, file: str = "--beds") -> tuple[MattressSize, ...]:
    """Read sizes such as ``queen, twin``.

    Raises
    ------
    SettingsError
        With every word that is no size.
    """
    words = [word.strip().lower().replace(" ", "-") for word in text.split(",") if word.strip()]
    problems = [
        Problem(file, "", f"{word[:40]!r} is no size of mattress", guess(word, tuple(treating.SIZES)))
        for word in words
        if word not in treating.SIZES
    ]
    if not words or len(words) > MOST_BEDS:
        fix = f"write one to {MOST_BEDS}, as in queen, twin"
        problems.append(Problem(file, "", f"it names {len(words)} beds", fix))
    if problems:
        raise SettingsError(problems)
    return tuple(treating.SIZES[word] for word in words)


def materials_for(
    beds: Sequence[MattressSize], places: int, sofas: int, supports: int | None, level: str, sleeping: str
) -> tuple[Material, ...]:
    """Return what to bring.

    Parameters
    ----------
    beds
        Sizes of the beds; empty where they are not known.
    places
        Sleeping places, counted as beds where sizes are not known.
    sofas
        Sofas and chairs that get interceptors.
    supports
        Supports that were counted, all together; else as common frames have.
    level
        Level of the infestation.
    sleeping
        ``bed`` or ``sofa``.
    """
    number = len(beds) or (places if sleeping == "bed" else 0)
    usual = sum(size.supports for size in beds) if beds else 4 * number
    legs = usual + treating.SOFA_SUPPORTS * sofas if supports is None else supports
    counted = "counted" if supports is not None else "as common frames have; count them there"
    covers = [
        Material(f"Encasement, {kind}", number, _sizes(beds) or "measure first: width, length and depth")
        for kind in ("mattress", "box spring")
        if number
    ]
    return (
        Material("Interceptors", legs, f"one under every support, {counted}"),
        *covers,
        Material("Bags that close", None, "for bedding, clothes and what is carried out"),
        Material("Vacuum bag", 1, "one for this unit, closed and out of the building at the end"),
        Material("Respirators, N95 or better", None, "one a person wherever dust is used"),
        *(
            [Material("Coveralls and shoe covers", None, "one set a person in a heavy unit")]
            if level == "heavy"
            else []
        ),
    )


def _sizes(beds: Sequence[MattressSize]) -> str:
    by_size = {size.code: beds.count(size) for size in beds}
    return "; ".join(
        f"{count} {size.name.lower()} {size_words(size)}"
        for code, count in by_size.items()
        if (size := treating.SIZES[code])
    )


def size_words(size: MattressSize) -> str:
    """Return ``60 x 80 in (1.52 x 2.03 m), depth as measured``."""
    (wide, long), (w, m) = size.inches, size.metres
    return f"{wide:g} x {long:g} in ({w:.2f} x {m:.2f} m), depth as measured"

"""What to bring to a treatment: encasements by size, an interceptor under every support, bags."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from spread.errors import Problem, SettingsError
from spread.facts import Fact
from spread.records.sense import guess
from spread.trade import treating
from spread.trade.room import COVERED
from spread.trade.treating import MattressSize

MOST_BEDS = 12  #: Beds of one unit; more are something else


@dataclass(frozen=True, slots=True)
class Home:
    """What is known of the home that is treated."""

    beds: tuple[MattressSize, ...] = ()  #: Sizes of the beds, where they are known
    places: int = 1  #: Sleeping places where sizes are not known, counted as beds; at least one is taken
    sleeping: str = "bed"  #: ``bed`` or ``sofa``: where people sleep
    sofas: int = 0  #: Sofas and chairs that get interceptors
    #: Supports of all beds and sofas together, if they were counted; else as frames commonly have
    supports: int | None = None
    kinds: tuple[str, ...] = ()  #: Kinds of sleeping place (:data:`spread.trade.room.SLEEPING`), if told
    #: Warmth of the rooms; the default of :mod:`spread.trade.development` if None
    room_celsius: float | None = None


@dataclass(frozen=True, slots=True)
class Material(Fact):
    """What to bring (common practice, no source)."""

    #: ``interceptors``, ``mattress``, ``box-spring``, ``bags``, ``vacuum-bag``, ``respirators`` or
    #: ``coveralls``
    kind: str
    count: int | None = None  #: How many, or None where it has to be seen there
    counted: bool = False  #: Whether somebody counted them there
    #: Sizes that encasements have to fit, and how many beds have each
    beds: tuple[tuple[MattressSize, int], ...] = ()


def read_beds(text: str, *, file: str = "--beds") -> tuple[MattressSize, ...]:
    """Read sizes such as ``queen, twin``; raises SettingsError with every word that is no size."""
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


def materials_for(home: Home, level: str) -> tuple[Material, ...]:
    """Return what to bring to a home at a level of infestation."""
    unsized = max(1, home.places) if home.sleeping == "bed" else 0
    if home.kinds:
        unsized = sum(kind in COVERED for kind in home.kinds)
    number = len(home.beds) or unsized
    usual = sum(size.supports for size in home.beds) if home.beds else 4 * number
    legs = usual + treating.SOFA_SUPPORTS * home.sofas if home.supports is None else home.supports
    springs = home.kinds.count("bed") if home.kinds and not home.beds else number
    covers = [
        Material(kind, count, beds=_by_size(home.beds))
        for kind, count in (("mattress", number), ("box-spring", springs))
    ]
    return (
        Material("interceptors", legs, counted=home.supports is not None),
        *(covers if number else ()),
        Material("bags"),
        Material("vacuum-bag", 1),
        Material("respirators"),
        *([Material("coveralls")] if level == "heavy" else ()),
    )


def _by_size(beds: Sequence[MattressSize]) -> tuple[tuple[MattressSize, int], ...]:
    return tuple((size, beds.count(size)) for size in dict.fromkeys(beds))

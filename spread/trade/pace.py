"""How fast a crew works: the minutes of :mod:`spread.trade.minutes` as a building has them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from spread.trade import minutes
from spread.trade.registry import LOOKING, MONITORS


@dataclass(frozen=True, slots=True)
class Households:
    """Who lives in a building, as its runs ahead take it; every default stands beside its source."""

    stay_weeks: float = minutes.STAY.central  #: How long a household stays, in the mean
    empty_weeks: float = minutes.EMPTY.central  #: How long a unit then stands empty, in the mean
    refuses: float = minutes.REFUSES.central  #: Share that refuses every visit until it moves
    not_prepared: float = minutes.NOT_PREPARED.central  #: Share of treatment visits that do nothing for that


@dataclass(frozen=True)
class Pace:
    """Minutes and chances of a visit; every default stands beside its source in ``minutes``."""

    #: Minutes of knocking, waiting and explaining, spent at a shut door too
    knock: float = minutes.KNOCK.central
    #: Minutes in the unit by method; of a monitor, setting up and checking together
    look: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({key: row.minutes.central for key, row in LOOKING.items()})
    )
    #: Minutes of ``look`` that fall on a monitor's first visit
    set_up: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({key: row.set_up for key, row in MONITORS.items()})
    )
    metres_per_minute: float = minutes.WALK_METRES_PER_MINUTE.central  #: Walking speed
    #: Chance that nobody opens, before anything is known of a unit
    no_access: float = minutes.NO_ACCESS.central
    no_access_visits: float = minutes.NO_ACCESS_VISITS  #: How many visits that prior weighs
    households: Households = field(default_factory=Households)

    def with_look(self, changed: Mapping[str, float]) -> Pace:
        """Return the same with other minutes in the unit; a monitor's first visit keeps its share."""
        look = {method: float(changed.get(method, known)) for method, known in self.look.items()}
        set_up = {method: known * look[method] / self.look[method] for method, known in self.set_up.items()}
        return replace(self, look=MappingProxyType(look), set_up=MappingProxyType(set_up))

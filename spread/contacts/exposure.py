"""How a measured contact becomes an exposure: the constants, each with where it is from."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ExposureSettings:
    """Constants of the contact graph. Exposure 1.0 is the typical contact of each route."""

    #: wall_metres, floor_m2: Shared wall (m) and floor overlap (m2) of the typical contact; exposure grows in
    #: proportion. The unit of the model's route rates, a convention.
    wall_metres: float = 6.0
    floor_m2: float = 40.0
    #: Widest gap in metres across which two drawn rooms still share a wall. Plans draw room interiors; gaps
    #: of 0.33-0.65 m were measured in openly licensed building models.
    wall_gap: float = 0.7
    #: How far two outlines may overlap by a drawing slip, in metres, and still share a wall
    wall_overlap: float = 0.12
    #: wall_least, floor_least: Contacts shorter (m) or smaller (m2) than this are drawing noise and are
    #: dropped
    wall_least: float = 0.5
    floor_least: float = 1.0
    riser_reach: float = 0.35  #: A unit within this many metres of a riser's outline touches it
    #: riser_decay, riser_least: Factor per floor apart beyond the first, and the exposure below which a pair
    #: is dropped. Judgement, no source.
    riser_decay: float = 0.5
    riser_least: float = 0.05
    #: Kernel length in metres: exposure falls as ``exp(-metres / 9)``. Borrowed from another indoor bug
    #: (Barbu et al. 2013, distance kernel of 9.0 m), that is 0.43 per door of 7.5 m.
    hallway_length: float = 9.0
    hallway_least: float = 0.02  #: Exposure below which a hallway pair is dropped
    #: Doors on opposite sides within this walk in metres face each other. Judgement.
    facing_walk: float = 4.0
    door_reach: float = 1.0  #: A door within this many metres of a hallway opens on it
    #: Metres walked per metre of height: 2.5 storey heights a floor (stairs at about 32 degrees and two
    #: landings). Judgement, no source.
    stair_factor: float = 2.5
    #: bed_reach, bed_factor: A bed within 2.1 m of a shared wall or a riser raises that contact by 1.3. The
    #: distance is common practice (most bugs stay within 5-7 ft of the bed), no source; the factor is
    #: judgement.
    bed_reach: float = 2.1
    bed_factor: float = 1.3

    @property
    def hallway_reach(self) -> float:
        """Metres beyond the hallway's width at which a hallway contact is dropped (35.2 m)."""
        return -self.hallway_length * math.log(self.hallway_least)

    def riser_exposure(self, floors_apart: int) -> float:
        """Return 1 on the same and the next floor, then half per floor further; 0 where dropped."""
        exposure = self.riser_decay ** max(0, floors_apart - 1)
        return exposure if exposure >= self.riser_least else 0.0

    def hallway_exposure(self, walk_m: float, across_m: float) -> float:
        """Return ``exp(-max(0, walk - across) / length)``, 1 for doors that face; 0 where dropped."""
        exposure = math.exp(-max(0.0, walk_m - across_m) / self.hallway_length)
        return exposure if exposure >= self.hallway_least else 0.0

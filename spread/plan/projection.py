"""Longitude and latitude to metres and back, on a plane that touches the Earth at the building.

The plane is good for one site: an east-west length one kilometre north or south of the centre is
off by about ``tan(latitude) / 6,400`` of itself, that is 2 cm in 100 m at 50 degrees north.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

EQUATORIAL_RADIUS = 6_378_137.0
"""Semi-major axis of the WGS 84 ellipsoid in metres (NIMA TR8350.2, table 3.1; from memory)."""
FLATTENING = 1.0 / 298.257223563
"""Flattening of the WGS 84 ellipsoid (same table)."""


def metres_per_degree(latitude: float) -> tuple[float, float]:
    """Return the length in metres of one degree of longitude and one of latitude.

    ``latitude``: in degrees, north positive. Returns: East-west and north-south metres in a degree, from the
    ellipsoid's two radii of curvature.
    """
    phi = math.radians(latitude)
    e2 = FLATTENING * (2.0 - FLATTENING)
    bulge = 1.0 - e2 * math.sin(phi) ** 2
    along_parallel = EQUATORIAL_RADIUS / math.sqrt(bulge) * math.cos(phi)
    along_meridian = EQUATORIAL_RADIUS * (1.0 - e2) / bulge**1.5
    return math.radians(along_parallel), math.radians(along_meridian)


@dataclass(frozen=True, slots=True)
class LocalPlane:
    """A plane in metres with its origin at one longitude and latitude (degrees, WGS 84)."""

    longitude: float
    latitude: float

    def to_metres(self, positions: NDArray[np.float64]) -> NDArray[np.float64]:
        """Turn longitude and latitude, shape ``(n, 2)``, into metres east and north.

        A site across the 180th meridian stays in one piece: every longitude is taken the
        short way round from the origin.
        """
        east = (positions[:, 0] - self.longitude + 180.0) % 360.0 - 180.0
        north = positions[:, 1] - self.latitude
        return np.column_stack([east, north]) * metres_per_degree(self.latitude)

    def to_degrees(self, metres: NDArray[np.float64]) -> NDArray[np.float64]:
        """Turn metres east and north, shape ``(n, 2)``, back into longitude and latitude."""
        degrees = metres / metres_per_degree(self.latitude) + (self.longitude, self.latitude)
        degrees[:, 0] = (degrees[:, 0] + 180.0) % 360.0 - 180.0
        return np.asarray(degrees, dtype=np.float64)

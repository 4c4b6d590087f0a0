"""The trade's numbers as they stood before the joint fit: what its parameters are factors and shifts on.

Each had its own source then (a paper, a judgement); :mod:`spread.trade` now stands at the joint fit. They are
kept so that a vector of an old file of draws means what it meant.
"""

ROUTES = {"wall": 0.008, "floor": 0.0056, "riser": 0.00125, "hallway": 0.0047, "link": 0.0047}
BROUGHT_IN = 0.0004
MIXING = 0.003
GROWTH_PER_DAY = 0.035
DECLINE = (0.03, 0.015, 0.01, 0.01)
SHEDDING = (0.03, 0.1, 0.4, 1.0)
LEVEL_MIX = (0.2, 0.3, 0.3, 0.2)
REPORT = (0.0005, 0.005, 0.01, 0.025, 0.05)  #: Weekly, clear first
LOOK = (0.30, 0.60, 0.85, 0.98)
THOROUGH = (0.40, 0.70, 0.92, 0.99)
TRAPS = (0.60, 0.85, 0.95, 0.99)
INTERVIEW = (0.15, 0.35, 0.65, 0.85)
ELIMINATION = {
    "steam-dust-encase": (0.25, 0.20, 0.12, 0.05),
    "spray": (0.10, 0.08, 0.05, 0.02),
    "combined": (0.25, 0.20, 0.14, 0.07),
}

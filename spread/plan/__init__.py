"""Where things are: units, hallways, doors, shafts and beds of a building, in metres.

A plan comes from a drawing (:mod:`spread.plan.geojson`) or from a list of units
(:mod:`spread.plan.unit_list`), and :mod:`spread.plan.checks` says what is wrong with it.
"""

from spread.plan.checks import check_plan
from spread.plan.geojson import read_plan, write_plan
from spread.plan.model import Bed, Door, Plan, Shaft, Space, Unit

__all__ = ["Bed", "Door", "Plan", "Shaft", "Space", "Unit", "check_plan", "read_plan", "write_plan"]

"""The way of a unit from a find to clearance and the end of its watch."""

"""What the trade and the literature know, each number beside its source.

Nothing here knows of a building. Every number is a :class:`~spread.trade.sources.Sourced`
with its low, central and high value; functions turn the central values into arrays in the
order of :data:`~spread.trade.biology.LEVEL_NAMES`.
"""

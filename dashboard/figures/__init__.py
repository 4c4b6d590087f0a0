"""Figures to look into: pure functions from facts to plotly figures, and the one way to show them."""

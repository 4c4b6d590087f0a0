"""Drawing a credible plan from nothing but a list of units: numbering, rows, one module a layout."""

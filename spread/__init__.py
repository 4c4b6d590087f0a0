"""Which door next: bed bug inspections in multifamily buildings, ranked on the floor plan."""

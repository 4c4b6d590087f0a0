"""What people take away for other programs: tables, a map, a graph, a calendar.

``tables`` (CSV and XLSX), ``maps`` (GeoJSON), ``graph`` (GraphML) and ``bundle`` (all of them, by name).
"""

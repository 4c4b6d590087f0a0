"""What people take away for other programs: tables, a map, a graph, a calendar.

``tables`` (CSV and XLSX with their schemas), ``maps`` (GeoJSON, GeoPackage), ``graph`` (GraphML),
``draws`` (the fit as labelled arrays), ``statistics`` (those as netCDF and Parquet) and ``bundle`` (all of
them, by name).
"""

"""Files that hold the outlines of rooms already: building models (IFC), IMDF archives and map layers."""

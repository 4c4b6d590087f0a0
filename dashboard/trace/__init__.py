"""The tracer: from a photograph, a scan, a PDF or a DXF to a building."""

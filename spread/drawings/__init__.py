"""One tracer for a photograph, a scan, a PDF page and a DXF: clicks of a person and the ink give a floor."""

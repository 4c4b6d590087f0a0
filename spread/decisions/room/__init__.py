"""The room behind a door: the sheet, and what was found by item."""

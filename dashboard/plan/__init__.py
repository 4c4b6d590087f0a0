"""The plan page: which door next, on the drawing."""

"""A building set up in the browser."""

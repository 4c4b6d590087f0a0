"""Pages of the manager's desk beside the week."""

"""The plan of an open building changed: its units from a day on, and what is drawn wrong."""

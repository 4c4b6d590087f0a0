"""Pages for the phone: a round of doors, and the room behind a door. Plain Flask and HTML, no Dash."""

"""Pages for the phone: a round of doors, and the room behind a door. Plain Flask and HTML, no Dash."""

from dashboard.pages import Page
from dashboard.round.addresses import add_phone_pages

PAGE = Page("/round", "Round", "the round on the phone", routes=add_phone_pages)

"""From a plan to who touches whom, by which route and how much."""

from spread.contacts.exposure import ExposureSettings
from spread.contacts.graph import build_contacts
from spread.contacts.links import Link
from spread.contacts.relations import ring_around, ways_between

__all__ = ["ExposureSettings", "Link", "build_contacts", "ring_around", "ways_between"]

"""A building's settings as they hold for the units of today: they may name units by older codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shapely import Point

from spread.contacts.bed import BedPlace
from spread.contacts.links import Link
from spread.plan.changes import Change
from spread.plan.model import Plan
from spread.records.following import Homes
from spread.settings import BuildingSettings


def settled(
    settings: BuildingSettings, changes: Sequence[Change], homes: Homes, plan: Plan
) -> BuildingSettings:
    """Return settings with links, entry rules and beds at the units of today.

    A link or an entry rule of a home that was parted holds for each part. Links that the changes add or take
    out are added and taken out. A bed goes to the part in which it stands; one that stood against a wall of a
    home that was parted is left out.
    """
    if not changes:
        return settings
    links = _links(settings.links, changes, homes)
    access = tuple(replace(rule, unit=unit) for rule in settings.access for unit in homes.today(rule.unit))
    beds = tuple(bed for place in settings.beds for bed in _beds(place, homes, plan))
    return replace(settings, links=links, access=access, beds=beds)


def _links(links: Sequence[Link], changes: Sequence[Change], homes: Homes) -> tuple[Link, ...]:
    found = [
        replace(link, a=a, b=b)
        for link in links
        for a in homes.today(link.a)
        for b in homes.today(link.b)
        if a != b or link.a == link.b
    ]
    for change in changes:
        if change.step not in ("link", "unlink"):
            continue
        ends = [[home.unit for home in homes.of(change.text(name), change.on)] for name in ("a", "b")]
        pairs = [(a, b) for a in ends[0] for b in ends[1] if a != b]
        route = change.text("route")
        if change.step == "link":
            strength = change.said.get("strength", 1.0)
            found += [Link(a, b, change.text("words"), strength, route) for a, b in pairs]
        else:
            ties = [{a, b} for a, b in pairs]
            found = [link for link in found if link.route != route or {link.a, link.b} not in ties]
    return tuple(found)


def _beds(place: BedPlace, homes: Homes, plan: Plan) -> list[BedPlace]:
    units = homes.today(place.unit)
    against = homes.today(place.against)[0] if place.against else ""
    if len(units) == 1:
        return [replace(place, unit=units[0], against=against)]
    if place.x is None or place.y is None:
        return []
    at = Point(place.x, place.y)
    here = [unit for unit in units if any(part.covers(at) for part in plan.units[unit].parts.values())]
    return [replace(place, unit=unit) for unit in here[:1]]

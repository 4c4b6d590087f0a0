"""Which doors of which buildings come first, and why: from what is kept, nothing is fitted."""

from __future__ import annotations

from dataclasses import dataclass

from spread.decisions.doors.ranking import DoorRow
from spread.errors import SpreadError
from spread.firm.fitting import Asked, session_of
from spread.firm.places import Places
from spread.portfolio.standing import Kept
from spread.portfolio.team import Stay, Team, team_week
from spread.session import Session


@dataclass(frozen=True)
class FirstDoor:
    """A door that is to be looked at: of which building, opened on what is kept, and its row there."""

    kept: Kept
    session: Session
    row: DoorRow


@dataclass(frozen=True)
class Tomorrow:
    """One team's day over all buildings.

    Parameters
    ----------
    stays
        The buildings in the order of :func:`spread.portfolio.team.team_week`, one day.
    doors
        The first doors: building after building, within each the most weeks averted an hour first.
    changed
        Buildings of which something changed since their fit.
    problems
        What cannot be opened, in a sentence each.
    """

    stays: tuple[Stay, ...]
    doors: tuple[FirstDoor, ...]
    changed: tuple[str, ...]
    problems: tuple[str, ...]


def tomorrow_of(places: Places, asked: Asked, team: Team, top: int) -> Tomorrow:
    """Return a team's day and its first doors.

    ``team``: with one day; hours and the minutes from one building to the next. ``top``: how many doors.
    """
    week = team_week(places.summaries(), asked.on, team)
    # Where an hour averts most, the way there included, comes first.
    stays = sorted(week.stays, key=lambda stay: -stay.averted / max(1.0, stay.minutes + stay.travel))
    doors: list[FirstDoor] = []
    changed, problems = [], []
    for stay in stays:
        wanted = min(stay.looks, top - len(doors))
        if wanted <= 0:
            continue
        try:
            session, fresh = session_of(places, stay.kept.key, asked)
        except SpreadError as error:
            problems.append(str(error))
            continue
        if not fresh:
            changed.append(stay.kept.name)
        look = sorted((row for row in session.doors() if row.status == "look"), key=lambda row: -row.per_hour)
        doors += [FirstDoor(stay.kept, session, row) for row in look[:wanted]]
    return Tomorrow(tuple(stays), tuple(doors), tuple(changed), tuple(problems))

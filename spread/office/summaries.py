"""What the last fits said of the buildings of an office, read in three questions however many they are."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import Engine, func, select

from spread.office.tables import building, building_file, log_row
from spread.portfolio.standing import Kept
from spread.records.summaries import file_of, summary_of_text

LOG_FILE = "records.csv"


def read_office(engine: Engine, wanted: Collection[str]) -> tuple[Kept, ...]:
    """Return what is kept of buildings of an office, by their keys."""
    names = select(building.c.key, building.c.name).where(building.c.key.in_(wanted)).order_by(building.c.key)
    counts = select(
        log_row.c.building, func.count(), func.max(log_row.c.day), func.max(log_row.c.written)
    ).group_by(log_row.c.building)
    files = select(building_file.c.building, building_file.c.data).where(
        building_file.c.name == file_of(LOG_FILE), building_file.c.building.in_(wanted)
    )
    with engine.connect() as connection:
        told = {str(key): bytes(data) for key, data in connection.execute(files)}
        rows = {str(key): rest for key, *rest in connection.execute(counts)}
        return tuple(
            Kept(
                str(key),
                str(name),
                summary_of_text(told.get(str(key), b"")),
                int(rows[key][0]) if key in rows else 0,
                rows[key][1] if key in rows else None,
                rows[key][2].date() if key in rows else None,
            )
            for key, name in connection.execute(names)
        )

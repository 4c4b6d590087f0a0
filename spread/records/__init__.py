"""What happened in the building: the append-only log and its words.

Each module leans only on those before it: ``kinds``, ``sense``, ``items`` and ``parse`` (what a row means),
``cells`` (how it is written), ``log`` (corrections), ``table`` (a whole file), ``lock`` and
``store`` (the disk), ``words`` (how a row is told).
"""

from spread.records.kinds import FIELDS, Finding, Record
from spread.records.log import Log
from spread.records.parse import record_from_fields
from spread.records.store import append_record, new_id, read_log

__all__ = ["FIELDS", "Finding", "Log", "Record", "append_record", "new_id", "read_log", "record_from_fields"]

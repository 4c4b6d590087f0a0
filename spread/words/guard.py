"""What the file of a log has lost, in words, with the two ways out."""

from __future__ import annotations

from collections.abc import Sequence

from spread.records.folder import Trouble
from spread.records.kinds import Record
from spread.words.voice import Voice

NAMED = 6
"""Rows that are named one by one."""
EXAMPLES = 2
"""Altered rows of which it is told why they cannot be read; a program that saved the file did it to all."""


def trouble_sentences(trouble: Trouble, voice: Voice, building: str = "") -> list[str]:
    """Return what is the matter with a log, a sentence each.

    ``trouble``: what the guard has found. ``building``: the folder as the reader named it, for the commands
    to type; empty where buttons do it.
    """
    file, lines = trouble.file, []
    if trouble.lost:
        lines.append(
            voice.many(
                "{file} lacks {number} row that was known ({rows}). Work goes on with it.",
                "{file} lacks {number} rows that were known ({rows}). Work goes on with them.",
                len(trouble.lost),
                file=file,
                rows=_named(trouble.lost, voice),
            )
        )
    if trouble.altered:
        lines.append(
            voice.many(
                "{file} says something else in {number} row than was known ({rows}). Work goes on with what "
                "was known.",
                "{file} says something else in {number} rows than was known ({rows}). Work goes on with what "
                "was known.",
                len(trouble.altered),
                file=file,
                rows=_named(trouble.altered, voice),
            )
        )
    lines += [str(problem) for problem in (*trouble.misread[:EXAMPLES], *trouble.unread[:NAMED])]
    if trouble.journal_broken:
        lines.append(
            voice.text(
                "The journal beside {file} was changed by hand at line {line}; its rows are used all the "
                "same.",
                file=file,
                line=trouble.journal_broken,
            )
        )
    if trouble.beside:
        lines.append(voice.text("The rows as they were known are in {beside}.", beside=trouble.beside))
    if building and (trouble.lost or trouble.altered):
        lines.append(
            voice.text(
                "Put them back: spread guard {building} --put-back. Take the file as it is: spread guard "
                "{building} --accept.",
                building=building,
            )
        )
    return lines


def _named(rows: Sequence[Record], voice: Voice) -> str:
    parts = [f"{row.unit}, {voice.day(row.when)}" for row in rows[:NAMED]]
    more = len(rows) - len(parts)
    return "; ".join([*parts, voice.text("and {more} more", more=more)] if more else parts)

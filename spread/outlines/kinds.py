"""What a room may be, by what it is called. A suggestion: a person confirms each distinct word once."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping

import networkx as nx

from spread.outlines.found import Found, Room

HOME, HALLWAY, STAIR, COMMON, RISER, LEFT_OUT = "home", "hallway", "stair", "common", "riser", "leave out"
KINDS = (HOME, HALLWAY, STAIR, COMMON, RISER, LEFT_OUT)
"""What may be said of a word; ``home``: a unit or a room of one."""
NO_WORD = "without a word"
_WORDS = {
    STAIR: r"stairs?|stairs?way|stairs?well|steps|treppe\w*|escaliers?",
    HALLWAY: r"hall|hallway|corridor|landing|walkway|lobby|foyer|vestibule|entrance|circulation|flur|couloir",
    COMMON: r"laundry|lounge|gym|office|meeting|mail\w*|bike\w*|bicycle\w*|trash|garbage|refuse|restroom\w*"
    r"|mechanical|electrical|plant|storage|garage|parking|common|amenity",
    RISER: r"shaft|riser|chase|duct",
    LEFT_OUT: r"roof|void|opentobelow|terrace|balcony|site|elevator|lift|escalator|ramp|unspecified"
    r"|nonpublic|outside|exterior|attic",
}
_INNER = re.compile(r"\b(bed|bath|wc|toilet|closet|wardrobe|shower|ensuite)", re.IGNORECASE)
"""Rooms that no hallway of a house opens on."""


def word_of(room: Room) -> str:
    """Return what a room says it is, without its number: ``Bedroom 2`` is ``Bedroom``."""
    return re.sub(r"[\s#.\-_]*\d+[a-zA-Z]?$", "", room.word).strip() or NO_WORD


def suggested(word: str) -> str:
    """Return what a room of some word may be."""
    tokens = re.findall(r"[a-z]+", word.casefold())
    for kind, pattern in _WORDS.items():
        if any(re.fullmatch(pattern, token) for token in tokens):
            return kind
    return HOME


def words_of(found: Found) -> tuple[list[str], Mapping[str, str]]:
    """Return the word of each room, and what each word may be, with a look at where the doors lead.

    A hallway that opens on bedrooms or bathrooms is part of a home. So is a stair that leads to no hallway of
    the house, and on each floor into one home alone. Where a word is of both, it is two words.
    """
    words = [word_of(room) for room in found.rooms]
    kinds = {word: suggested(word) for word in dict.fromkeys(words)}
    graph = ways(found)
    told = [kinds[word] for word in words]
    for n, kind in enumerate(told):
        if kind == HALLWAY and any(_INNER.search(found.rooms[other].word) for other in graph[n]):
            told[n] = HOME
    part_of = {n: number for number, part in enumerate(homes(graph, _having(told, HOME))) for n in part}
    within = [n for n in _having(told, STAIR) if _within_homes(found, graph, n, part_of)]
    for n in within:
        told[n] = HOME
    several = {word: {told[n] for n, of in enumerate(words) if of == word} for word in kinds}
    kinds |= {word: next(iter(of)) for word, of in several.items() if len(of) == 1}
    apart = {n for n, word in enumerate(words) if told[n] != kinds[word]}
    words = [f"{word} within a home" if n in apart else word for n, word in enumerate(words)]
    return words, kinds | {words[n]: told[n] for n in sorted(apart)}


def _having(kinds: list[str], kind: str) -> list[int]:
    return [n for n, other in enumerate(kinds) if other == kind]


def ways(found: Found) -> nx.Graph:
    """Return the graph of rooms with an edge for each door or opening between two of them."""
    graph = nx.Graph()
    graph.add_nodes_from(range(len(found.rooms)))
    graph.add_edges_from(found.links)
    graph.add_edges_from(door.rooms for door in found.doors if len(door.rooms) == 2)
    return graph


def homes(graph: nx.Graph, rooms: Collection[int]) -> list[list[int]]:
    """Return the rooms of homes in parts that doors and openings join, each in the order of the file."""
    parts = nx.connected_components(graph.subgraph(rooms))
    return sorted(sorted(part) for part in parts)


def _within_homes(found: Found, graph: nx.Graph, stair: int, part_of: Mapping[int, int]) -> bool:
    beside = list(graph[stair])
    if not beside or any(n not in part_of for n in beside):
        return False
    levels = found.rooms[stair].levels
    on = [{part_of[n] for n in beside if level in found.rooms[n].levels} for level in levels]
    return all(len(parts) < 2 for parts in on)

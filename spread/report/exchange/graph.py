"""The contact graph as GraphML, for programs that draw and measure graphs; and back, equal."""

from __future__ import annotations

import io
import json

import networkx as nx

_LISTS_OF_NODES = ("floors", "levels")
_LISTS_OF_EDGES = ("risers",)


def contacts_graphml(graph: nx.MultiGraph) -> bytes:
    """Return the contact graph as GraphML.

    Parameters
    ----------
    graph
        From :func:`spread.contacts.graph.build_contacts`.

    Returns
    -------
    bytes
        An edge a route, its route among its data and an id of its own; lists (floors, risers) as JSON text,
        because GraphML has only single values.
    """
    plain = nx.MultiGraph(**graph.graph)
    for node, data in graph.nodes(data=True):
        plain.add_node(node, **_written(data, _LISTS_OF_NODES))
    for number, (a, b, data) in enumerate(graph.edges(data=True)):
        plain.add_edge(a, b, key=f"e{number}", **_written(data, _LISTS_OF_EDGES))
    stream = io.BytesIO()
    nx.write_graphml_xml(plain, stream, encoding="utf-8", prettyprint=True)
    return stream.getvalue()


def read_contacts(data: bytes) -> nx.MultiGraph:
    """Return the contact graph that :func:`contacts_graphml` wrote, equal to the first."""
    plain = nx.read_graphml(io.BytesIO(data), force_multigraph=True)
    graph = nx.MultiGraph(
        **{key: value for key, value in plain.graph.items() if not key.endswith("_default")}
    )
    for node, own in plain.nodes(data=True):
        graph.add_node(node, **_read(own, _LISTS_OF_NODES))
    for a, b, own in plain.edges(data=True):
        # The file's id of an edge comes back as its key and among its data.
        values = {name: value for name, value in own.items() if name != "id"}
        graph.add_edge(a, b, key=own["route"], **_read(values, _LISTS_OF_EDGES))
    return graph


def _written(data: dict[str, object], lists: tuple[str, ...]) -> dict[str, object]:
    kept = {name: value for name, value in data.items() if value is not None}
    return {name: json.dumps(value) if name in lists else value for name, value in kept.items()}


def _read(data: dict[str, object], lists: tuple[str, ...]) -> dict[str, object]:
    return {name: tuple(json.loads(str(value))) if name in lists else value for name, value in data.items()}

"""What only tests do with files and answers: read a graph back, and say yes to all that is suggested."""

from __future__ import annotations

import io
import json

import networkx as nx

from spread.tables.answers import LEAVE_OUT

LISTS = ("floors", "levels", "pos", "risers")


def read_contacts(data):
    """Return the contact graph that ``contacts_graphml`` wrote, equal to the first."""
    plain = nx.read_graphml(io.BytesIO(data), force_multigraph=True)
    graph = nx.MultiGraph(
        **{key: value for key, value in plain.graph.items() if not key.endswith("_default")}
    )
    for node, own in plain.nodes(data=True):
        graph.add_node(node, **_read(own))
    for a, b, own in plain.edges(data=True):
        # The file's id of an edge comes back as its key and among its data.
        values = {name: value for name, value in own.items() if name != "id"}
        graph.add_edge(a, b, key=own["route"], **_read(values))
    return graph


def _read(data):
    return {name: tuple(json.loads(value)) if name in LISTS else value for name, value in data.items()}


def accepting(answers, questions):
    """Return answers with every suggestion taken, as somebody may who has read them all."""
    for one in questions:
        answers = answers.having(one.topic, one.key, one.suggestion or LEAVE_OUT)
    return answers

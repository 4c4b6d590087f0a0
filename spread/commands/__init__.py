"""The commands of ``spread``, one module a topic; each offers ``add(command)``.

A module here is loaded whenever the command line starts, so it imports what is heavy inside its
functions.
"""

MODULES = (
    "building",
    "plan",
    "trace",
    "doors",
    "model",
    "duties",
    "guard",
    "buildings",
    "portfolio",
    "office",
    "people",
    "exchange",
    "room",
    "programmes",
    "proposal",
    "held",
    "case",
    "credit",
    "month",
    "paper",
    "week",
    "feed",
)
"""Modules of this package, in the order of the help."""

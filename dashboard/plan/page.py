"""The plan page: which door next, on the drawing."""

from __future__ import annotations

from dashboard.pages import Page
from dashboard.plan.callbacks import register
from dashboard.plan.layout import layout

PAGE = Page(
    "/",
    "Plan",
    "next doors",
    layout=layout,
    register=register,
    assets=(
        "plan.js",
        "arrows.js",
        "doors.js",
        "answer.js",
        "trail.js",
        "past.js",
        "zz_start.js",
        "plan",
    ),
)

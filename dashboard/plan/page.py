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
    scripts=("plan/page.js",),
    styles=("plan/lists.css", "plan/paper.css"),
)

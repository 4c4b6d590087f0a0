"""An office: one database with many buildings, their files, rows, people and what they did.

SQLite by default, PostgreSQL by its URL. Each module leans only on those before it: ``tables`` (what is
kept), ``connecting`` (engines, migrations), ``rows`` (the log of one building), ``buildings`` (folders in
and out).
"""

"""Lists and notes as people have them, read with a person's word for what each column and wording means.

``grid`` (any file as cells), ``meanings`` (columns, and where the table begins) and ``wordings``:
suggestions, never more; ``dates``, ``codes`` (units as they are written), ``answers`` (what a person
said, kept as TOML and used again), ``table``, ``notes`` (a log of rows), ``roll`` (a list of units).
"""

"""Who may sign in, what each may do, and who did what; kept in a building's folder or in an office.

``roles`` (rights of a role), ``phrases`` (work codes, pass phrases and their hashes), ``kept`` (what a store
of people offers), ``folder`` (the store in a building's folder; an office's is in
:mod:`spread.office.people`).
"""

"""Proofs of the posterior that cost more than a test may: run them from the top folder with ``python -m``.

``tests/`` runs the same code over fewer buildings.
"""

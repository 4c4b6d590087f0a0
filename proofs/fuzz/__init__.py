"""Hostile input: files of a building and requests to its server, changed by chance.

``python -m proofs.fuzz --files 10000 --requests 5000 --phones 30`` runs the whole number and says what it
met. The tests run some hundred of each (``tests/test_fuzz.py``). Everything follows from the seed.
"""

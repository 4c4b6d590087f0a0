"""The registry of methods: one row a way of looking, of monitoring or of treating.

A row is all there is to a method. Everything that lists, names, weighs, prices or draws luck for methods is
derived from the rows by :mod:`spread.trade.registry`.
"""

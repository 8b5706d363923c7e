"""Clumsy kitchen work as time series, written apart from the program's own virtual bench.

- ``pans``           what a pan carries, what a kitchen scale shows of it, a case with its truth
- ``bath_and_bowl``  pieces in a bath, pours into a bowl, by habit
- ``weighing``       weighing in on a bench scale, by habit
"""

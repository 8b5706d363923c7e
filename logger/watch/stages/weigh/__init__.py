"""Weighing in.

- ``pan``      what lies on a scale beyond the level on which an ingredient began
- ``weighed``  a row of each ingredient, with shares and cost, and its mass judged
- ``watcher``  ingredient by ingredient, on the bench scale
"""

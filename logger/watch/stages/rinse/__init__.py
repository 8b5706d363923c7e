"""Rinsing: how long the pieces were in fresh water.

- ``watcher``: the stage watcher; the stage's start and end are the dwell.
"""

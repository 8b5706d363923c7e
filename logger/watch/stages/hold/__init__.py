"""Kept warm or cold.

- ``watcher``  the core against the sheet and a named rule set, and how long
"""

"""Chilling.

- ``freezing``  a core that stands still just below 0 degC while it freezes
- ``watcher``   the core against its limit, the cooling clock, the freezing plateau
"""

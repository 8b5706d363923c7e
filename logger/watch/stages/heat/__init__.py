"""Warming both phases.

- ``phases``   both phases as their probes have them, what is missing, and the numbers
- ``watcher``  are they in their bands, do they fit together, where will they land?
"""

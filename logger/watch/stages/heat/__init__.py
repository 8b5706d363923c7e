"""Warming both phases.

- ``warmphases``  both phases as their probes have them, apart and together
- ``told``        what is said of them: what is missing, the numbers, and why
- ``watcher``     are they in their bands, do they fit together, where will they land?
"""

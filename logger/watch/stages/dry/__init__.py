"""Drying.

- ``rack``     the rack on a scale, and the curve of its mass
- ``watcher``  mass lost, its rate, and whether the surface film is probably gone
"""

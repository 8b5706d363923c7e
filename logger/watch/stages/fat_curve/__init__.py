"""A fat's own setting limits.

- ``watcher``  a melted sample that cools with a probe in it
"""

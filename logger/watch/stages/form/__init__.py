"""Forming: each piece on the bench scale is registered with its mass.

- ``watcher``: the stage watcher; a piece counts as soon as the scale is at rest.
"""

"""A binder or an alginate takes up water.

- ``watcher``  enough time, at the right temperature
"""

"""Cooking.

- ``watcher``  the core, its time at the limit, and what a heating table credits
"""

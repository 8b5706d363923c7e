"""Phases that cool, in any stage.

- ``forecast``  when a cooling channel will set, and its onset of setting
"""

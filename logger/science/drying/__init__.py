"""Drying after the rinse.

- ``drying``  a mass-loss curve read: has the loose water gone from the skin?
"""

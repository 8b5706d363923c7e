"""Drying after the rinse.

- ``bend``    where a steady loss begins to fall, told from a change of the air
- ``drying``  a mass-loss curve read: has the loose water gone from the skin?
"""

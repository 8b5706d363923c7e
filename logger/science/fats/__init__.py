"""Fats: what is known of each, where phases land together, when a fat sets.

- ``fats``          two limits, solid fat content, heat and density, with sources
- ``fatfile``       fats as a file says them, read and written
- ``mixing``        where the temperature lands when phases are combined
- ``emulsion``      fat by mass to droplets by volume, and when they crowd
- ``setting``       when a cooling fat began to set: heat that its loss curve does not explain
- ``settingpoint``  a fat's limits off the curve of a melted sample that cools
"""

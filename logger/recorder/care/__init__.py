"""What a person changes beside a run: sheets, roles of channels, corrections, fats, slab tests.

- ``care``         requests of the screen for such changes
- ``listening``    the ports as a page asks about them, and a line format taught
- ``own_files``    changes written into files that people write, whole or not at all
- ``own_slabs``    a slab test kept in the data folder
- ``saved_sheets`` a sheet saved from the screen; its revision counts up
- ``sensor_check`` a sensor compared with a known value
"""

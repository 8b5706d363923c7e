"""What the instruments read of a batch, as fast as it can be worked out; no ports, no clock.

- ``traces``          what each instrument reads, sample by sample, and how it is wired
- ``scale_readings``  loads of the script joined with the physics, for the three scales
- ``bath_reading``    the bath scale while hands are at the bath
- ``faults``          what breaks, when, for how long and where
- ``simulate``        a whole batch as its instruments read it
"""

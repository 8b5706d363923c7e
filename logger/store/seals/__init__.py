"""Everything in a run file bound to its place, so that damage is named and never read as a value.

- ``damage``    what is damaged, as a value and in words
- ``digest``    seals of rows and of groups of tail rows: what is hashed, and with whose name
- ``tally``     the one row that says what must be there, and holds the seals of the run's parts
- ``scan``      rows read around a damaged page
- ``pieces``    the readings of a channel: whole pieces and the holes between them
- ``rows``      other rows that are sealed one by one
- ``look``      one look at a file: snapshot, tally, pieces
- ``survey``    everything looked at: what is damaged
- ``binding``   an older file sealed for the first time
- ``torn``      a log whose end does not read
- ``cut``       a file that was cut short, or copied without its log
"""

"""Run files and the data folder they lie in; the only SQL of the house.

- ``format``      what a run file looks like, byte by byte; schema and constants
- ``records``     what goes in and comes out: plain values
- ``codec``       columns of readings to compact blobs and back (pure)
- ``errors``      full disk, newer file
- ``lock``        a lock that dies with its holder
- ``schema``      connections, identity, schema changes
- ``compaction``  rows to blocks with their pyramid
- ``writer``      ``RunWriter``: one run, one connection that writes
- ``overview``    a trace thinned out for drawing
- ``view``        ``RunView``: short read-only looks
- ``runfile``     the names the other rooms import
- ``ring``        what waits in memory while the disk is full (pure)
- ``datafolder``  where runs, sheets and bench files lie; one recorder at a time
- ``catalog``     the list of runs, rebuilt from the files
"""

"""Run files and the data folder they lie in; the only SQL of the house.

- ``format``      what a run file looks like, byte by byte; schema and constants
- ``records``     what goes in and comes out: plain values
- ``packing``     columns of numbers to compact bytes and back (pure)
- ``codec``       readings and raw chunks to blobs and back (pure)
- ``pyramid``     bins with lowest, highest and mean to blobs and back (pure)
- ``beside``      series kept beside the readings: to text and back (pure)
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
- ``earlier``     revisions of a sheet that were replaced
- ``catalog``     the list of runs, rebuilt from the files
- ``cells``       one CSV cell: numbers, times, text no spreadsheet runs (pure)
- ``table``       a CSV text with limits, and words for where one stands
- ``columns``     wide and long tables to columns; units (pure)
- ``imported_events``  a CSV file of events
- ``importing``   ``read_csv``: a file from elsewhere to readings and events
- ``bundle``      a whole run as plain data, and a run file made of it
- ``exporting``   ``export``: CSV, Parquet, JSON
- ``restoring``   ``restore``: an export back to a run
"""

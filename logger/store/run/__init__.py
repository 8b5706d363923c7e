"""One run, one SQLite file.

- ``format``    what a run file looks like, byte by byte; schema and constants
- ``records``   what goes in and comes out: plain values
- ``errors``    full disk, newer file
- ``schema``    connections, identity, numbered changes of the schema
- ``making``    a new run file with its header
- ``saving``    batches to rows
- ``ring``      what waits in memory while the disk is full
- ``writer``    ``RunWriter``: the one connection that writes
- ``tidying``   an ended run made one small file
- ``looking``   how a file is looked at: read-only, one snapshot, closed again
- ``facts``     what it says of its run: sheet, events, results, status
- ``overview``  a trace thinned out for drawing
- ``view``      ``RunView``: that, and readings and raw bytes
- ``runfile``   the names the other rooms import
"""

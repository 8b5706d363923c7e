"""One run, one SQLite file.

- ``format``    what a run file looks like, byte by byte; schema and constants
- ``records``   what goes in and comes out: plain values
- ``errors``    full disk, newer file, damaged part
- ``schema``    connections, identity, numbered changes of the schema
- ``changes``   what the results of an older version had otherwise
- ``saving``    batches to rows
- ``ring``      what waits in memory while the disk is full
- ``parts``     a batch that the file refuses whole, saved in parts
- ``birth``     a run file is made
- ``writer``    ``RunWriter``: begins a run file; the one connection that writes it
- ``tidying``   an ended run made one small file
- ``facts``     how a file is looked at, and what it says: sheet, events, results, status
- ``overview``  a trace thinned out for drawing
- ``view``      ``RunView``: that, and readings and raw bytes
- ``runfile``   the names the other rooms import
"""

"""Run files and the data folder they lie in; the only SQL of the house.

In reading order:

- ``run``       one run, one file: its format, the one who writes it, those who read it
- ``seals``     every row bound to its place: what is damaged is named
- ``blocks``    readings and raw bytes packed, and the pyramid over them
- ``folder``    where runs, sheets and bench files lie; the list of runs
- ``photos``    photos from outside become those that a run file keeps
- ``exchange``  CSV, Parquet and JSON, out and back
"""

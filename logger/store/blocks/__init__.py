"""Readings and raw bytes packed without loss.

- ``packing``     columns of numbers to compact bytes and back
- ``codec``       readings, raw chunks and derived series to blobs and back
- ``pyramid``     bins with lowest, highest and mean, to blobs and back
- ``compaction``  what is due, and rows to blocks with their pyramid
"""

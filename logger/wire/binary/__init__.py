"""Frames of a fixed number of bytes: BCD digits and binary numbers.

- ``frames``  bytes to frames that are whole and pass their check
- ``numbers`` a frame to values
"""

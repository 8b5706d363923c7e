"""Which ports are there, and what speaks on them.

- ``heard``    what was heard, and the bench file that fits
- ``columns``  which columns of numbers without a unit are probes
- ``asking``   questions to a stranger: knocked with first, asked properly where something answers
- ``bus``      which devices with registers are on a line
- ``listener`` one port, at one setting after the other
- ``listen``   every port, side by side
"""

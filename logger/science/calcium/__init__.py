"""The calcium bath: salts, what is left in it, amounts that belong together.

- ``salts``      hydrates, density, free calcium, warming on dissolving
- ``inventory``  what is left in the bath: bound, taken up, dragged out, diluted
- ``portions``   what to add when one amount was overshot; shares by mass
"""

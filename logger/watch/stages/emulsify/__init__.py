"""Pouring one phase into the other.

- ``bowl``            the bowl scale, followed all through the run; pours outside their stage
- ``poured``          mass, rate and fat fraction of the pours, against the sheet
- ``emulsion``        an emulsion on its way to setting
- ``watcher``         how much, how fast, how crowded, how warm
- ``afterpouring``    a pour that goes on after its stage was ended
- ``aftercombining``  the emulsion while it is formed and coated
"""

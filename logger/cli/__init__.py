"""The commands of ``bainlog``.

- ``main``      the group: loads a command's module only when it is used
- ``options``   the options and the printing that commands share
- ``demo``, ``playing``, ``tryout``  the virtual bench with finished runs, from here or a screen
- ``ports``, ``start``, ``sensor``    what is plugged in; recording; checks of sensors
- ``sheet``, ``plan``, ``slab``       sheets, what they will lead to, slab tests
- ``runs``, ``files``, ``report``, ``why``  runs looked at, moved, handed on, explained
- ``folder``    the data folder copied; runs thrown away and taken back
"""

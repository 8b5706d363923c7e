"""The commands of ``bainlog``.

- ``main``     the group: loads a command's module only when it is used
- ``options``  the options and the printing that commands share
- one module for each group of commands
"""

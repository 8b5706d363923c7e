"""The instruments on the table.

- ``begin``     nothing connected yet: the virtual bench, or plug in
- ``teaching``   lines that nobody knows: point at the number, say its unit
- ``answering``  what a sensor is: type and class, asked where it gets a role
- ``which``     the channel that moves gets the role
- ``checking``  a sensor at the ice point, in boiling water, or under a check weight
- ``page``      what is plugged in, with the three above
"""

"""Can the sensors be believed, and why is a value missing?

- ``pulse``        one channel: how often it speaks, since when it is silent, stuck or tared
- ``health``       gaps, silence, rates and tares of the whole bench
- ``doubts``       values that may not be true: stuck, exchanged, a drifting cold junction
- ``plausible``    which readings of a core probe food can have
- ``silence``      why a channel has no value
- ``tares``        a tare in the middle of a run, offered as an offset
- ``probechecks``  how the checks of the bench's sensors stand
- ``rise``         when a temperature that rises reaches a limit at its present rate
- ``probe``        one temperature channel as a watcher sees it
"""

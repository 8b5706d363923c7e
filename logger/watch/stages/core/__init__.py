"""What the watchers of a core probe share.

- ``core``           its readings, its extremes, the time not measured
- ``at_limit``       how long it was at its lower limit
- ``cooling_clock``  the clock of a cooling rule set
- ``danger``         time between cold and hot holding, over all stages
"""

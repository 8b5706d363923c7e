"""Values compared with their targets, and alarms.

- ``measured``  a value, its standard uncertainty, and where on the trace it is
- ``carried``   whose uncertainty a value carries, and why it is unknown
- ``extremes``  the lowest and the highest value
- ``stretch``   values that lasted for a stretch of readings, and what was so for one
- ``checks``    one way of comparing a value with a target
- ``limits``    alarm conditions with deadband
- ``alarms``    the alarms of a run in the states of ISA-18.2
"""

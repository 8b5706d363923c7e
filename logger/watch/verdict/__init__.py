"""Values compared with their targets, and alarms.

- ``checks``  one way of comparing a value with a target
- ``measured``  a value, its standard uncertainty, and where on the trace it lies
- ``extremes``  the lowest and the highest value of a stretch
- ``limits``  alarm conditions with deadband
- ``alarm``   one alarm and its states
- ``alarms``  all alarms of a run
"""

"""Values compared with their targets, and alarms.

- ``checks``  one way of comparing a value with a target
- ``limits``  alarm conditions with deadband
- ``alarm``   one alarm and its states
- ``alarms``  all alarms of a run
"""

"""Corrections of what was done: taken back, moved in time, gone on with.

- ``naming``  a correction as an event: what it is about, the old value, who and when
- ``again``   a run under way worked out again beside its recording
- ``stored``  a correction of a finished run
- ``goingon``  a run that ended, or was cut off, goes on
"""

"""A run worked out again from its file, and runs that did not come over a port.

- ``replay``    a run judged again, from its stored readings or from its raw bytes
- ``whole``     whether a run still has all that it was judged from
- ``beside``    traces without lag, worked out when a run ends
- ``shown``     what ``show`` prints of a run
- ``recovery``  runs that a kill or a reboot left behind
- ``acts_of_file``  acts of a file of events, checked as those sent to the recorder
- ``intake``    an imported file judged like a live run
"""

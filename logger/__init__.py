"""bainlog's logger: from the bytes of the bench to a saved, judged and explained run.

Rooms in reading order, the way the data flows:

- ``model``    plain typed data: sheet, bench, reading, event, finding, state; errors
- ``science``  physics as pure functions of numbers
- ``wire``     bytes to lines to raw readings
- ``correct``  raw readings to values with an uncertainty
- ``watch``    the engine: stages, detectors, forecasts, checks, alarms
- ``review``   plan, compare, explain, report
- ``ports``    serial ports and their threads
- ``store``    the run file, the catalog, import and export
- ``control``  the socket on which a screen or a command talks to the recorder
- ``virtual``  a simulated bench that speaks over pseudo-terminals
- ``recorder`` the process that joins them
- ``cli``      the commands
"""

"""Serial ports, thin: threads that read, ask, reconnect; the clock; who is on which port.

- ``clock``      the time of the run, and waiting
- ``errors``     what can be wrong with a port, and what to do about it
- ``identity``   what a bench file calls a port, to a device
- ``terminals``  is a device file a serial port? told before it is opened
- ``web``        instruments on the network: a page that is asked, a topic of a broker
- ``opening``    a port opened with its line settings, for this process alone
- ``sameport``   is it still the device that was there before?
- ``shapefiles`` line formats from files, tried on hostile lines
- ``batch``      what a port thread hands on
- ``probation``  is it the right instrument?
- ``registers``  one round of Modbus questions
- ``session``    one open port, from checking who is there to its end
- ``instrument`` the thread of one port: open, session, again
- ``footswitch`` the thread of a foot switch
- ``finding``    which ports are there, what speaks on them, and the bench file that fits
"""

"""Bytes of instruments to readings, and back; pure.

- ``shapes``     line formats: how the lines of an instrument are written
- ``units``      printed units to g, degC and uV
- ``checks``     check bytes and check digits of frames
- ``framing``    bytes to frames
- ``parsed``     what one line said, before it has a time
- ``linefields`` the numbers, units and flags of a line
- ``textline``   a line of text to values
- ``jsonline``   a JSON object to values
- ``modbus``     Modbus RTU frames and registers to values
- ``binary``     frames of a fixed number of bytes to values
- ``reader``     chunks with their stamps to readings and notices: live and replay
- ``columns``    which columns of a list without units may be probes?
- ``series``     numbers in the order in which they came: are they one thing?
- ``recognise``  which line format do these bytes have?
- ``footswitch`` contact states to marks
- ``questions``  what may be asked of an instrument that nobody knows yet?
- ``samples``    does a line format read its own samples?
- ``teaching``   a line format made from lines and one look at the display
- ``emit``       values to bytes, for the virtual bench
"""

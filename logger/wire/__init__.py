"""Bytes of instruments to readings, and back; pure.

- ``shape``      what a line looks like, one TOML table each; ``shapes/`` holds the built-in ones
- ``tables``     the tables of a line shape
- ``columns``    a list of n like cells, spelled out
- ``pattern``    is the matching time of a pattern bounded?
- ``hostile``    lines that are worst for a pattern
- ``units``      printed units to g, degC and uV
- ``framing``    bytes to frames
- ``parsed``     what one line said, before it has a time
- ``textline``   a line of text to values
- ``linefields`` the numbers, units and flags of a line
- ``jsonline``   a JSON object to values
- ``modbus``     Modbus RTU frames and registers to values
- ``reader``     chunks with their stamps to readings and notices: live and replay
- ``emit``       values to bytes, for the virtual bench
- ``recognise``  which shape do these bytes have?
- ``footswitch`` contact states to marks
"""

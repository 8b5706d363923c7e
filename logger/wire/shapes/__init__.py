"""Line formats: how the lines of an instrument are written, one TOML table each.

- ``columns``  a list of n like cells, spelled out as channels and a pattern
- ``possible`` what a number can be at all, whatever the format says
- ``keys``     what an object says beside its values
- ``tables``   the tables of a line format: port, frame, rules, fields, flags
- ``pattern``  is the matching time of a pattern bounded? its position automaton
- ``hostile``  lines that are worst for a pattern
- ``shape``    a whole line format, validated; ``*.toml`` beside it are the built-in ones
- ``together`` several devices with registers on one line, as one format
"""

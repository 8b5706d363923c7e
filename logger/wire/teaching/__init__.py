"""A line format made from lines and from what somebody says of them.

- ``tokens``  a line as numbers, units, words and marks
- ``pattern`` the pattern that lines of one make fit
- ``marks``   what a person says of the lines
- ``lines``   which lines are readings, which say that there is no value
- ``taught``  the line format, tried on the lines it was made from
"""

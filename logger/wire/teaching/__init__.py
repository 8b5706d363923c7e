"""A line format made from lines and from what somebody says of them.

- ``tokens``  a line as numbers, units, words and marks
- ``marks``   what a person says of the lines
- ``places``  which number is the one that a display shows?
- ``checked`` do the lines end with check digits, and which check are they?
- ``lines``   which lines are readings, which say that there is no value
- ``quantities`` do the lines say another unit than somebody said?
- ``pattern`` the pattern that lines of one make fit
- ``registers`` numbers in registers whose factor a display says
- ``taught``  the line format, tried on the lines it was made from
"""

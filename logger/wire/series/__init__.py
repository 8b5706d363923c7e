"""Numbers in the order in which they came: are they what their line format takes them for?

- ``turns``   numbers of several things in turn, a set value between readings, channels in turn
- ``others``  lines of several things in turn, by what stands beside the values
- ``beside``  a number that is made of two others: their difference or their mean
- ``printed`` digits whose value is not certain: a point between thousands, a point left out
- ``agreement`` one value in several units, gross less tare: whether the numbers of a line agree
- ``layout``  a line that lost bytes, or stands behind a line of words
- ``switches`` a unit that changed though its number did not
- ``sudden``  a value that cannot follow the one before: none, or in another unit
"""

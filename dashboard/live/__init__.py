"""At the bench: what now, how long, is anything wrong.

In reading order:

- ``feed``      readings and events of the run under way, kept in memory for all open pages
- ``sentence``  the one sentence, its reasons and cautions
- ``numbers``   the two or three numbers that matter
- ``rail``      the stages as one strip, and how the batch keeps to its plan
- ``drawing``   the strip of traces
- ``table``     the same as tables
- ``board``     pieces in the bath
- ``trouble``   alarms, and what the bench proposes
- ``health``    each sensor, how old its last sample is
- ``acts``      what was done, to be taken back or moved
- ``asking``    what is asked at the start and at the end of a batch
- ``dialogs``   start, note, undo, move and end, and what fills them
- ``controls``  the row of large buttons and the menu of the rest
- ``commands``  from a tapped button to the recorder and back
- ``layout``    the page without data
- ``page``      its parts, its beat and its callbacks
"""

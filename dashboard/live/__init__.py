"""At the bench: what now, how long, is anything wrong.

- ``feed``      readings and events of the run under way, kept in memory for all open pages
- ``view``      which channels, which window, how large
- ``strip``     the traces: history and tail
- ``ranges``    from where to where each lane reaches
- ``riders``    names at the line ends, forecast cones
- ``furniture`` stage lines, target bands, events and alarms
- ``table``     the same as tables
- ``sentence``  the one sentence, its reasons and cautions
- ``numbers``   the two or three numbers that matter
- ``rail``      the stages as tickets, planned and actual
- ``board``     pieces in the bath
- ``trouble``   alarms, and what the bench proposes
- ``health``    each sensor, how old its last sample is
- ``page``      the page and its callbacks
"""

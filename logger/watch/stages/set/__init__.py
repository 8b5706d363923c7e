"""The setting bath: the dwell of each piece by itself, the skin set through, the calcium left.

In reading order:

- ``segment``: a segment of the bath scale's trace, as plain values.
- ``rows``: rows of the bath's table, as plain values.
- ``bath``: the bath scale, watched all the time: late, early and forgotten stages.
- ``statements``: what an operator's event says of a piece.
- ``watcher``: the stage watcher; takes readings and events, asks the modules below.
- ``immersion``: which piece was in the bath from when to when, from the scale under it.
- ``pieces``: masses and coats of the pieces, and each immersion with what physics says of it.
- ``skin``: how far a skin has set in the bath as it is, and the calcium left in it.
- ``rises``: what a silent scale hides and no piece explains: asked.
- ``board``: the table on the screen, the sentence above, the notes below, the alarms.
- ``findings``: what is judged when the stage ends.
- ``results``: rows of immersions, events and proposals.
"""

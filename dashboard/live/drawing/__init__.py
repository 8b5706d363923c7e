"""The strip of traces of the page at the bench.

In reading order:

- ``canvas``    what it looks like: axes, lines, bands, marks; other graphs use it too
- ``view``      which channels one page draws, which window, how large, how high
- ``furniture`` stages, targets, events, names at the line ends, forecasts
- ``strip``     one step: what an open page must be sent to be up to date
"""

"""One engine for live and replay: stages, detectors, forecasts, checks, alarms. Pure.

In reading order:

- ``engine``: the stream of readings and events, stages that begin and end, taking back.
- ``sensors``: silence, doubtful values and tares of each channel.
- ``verdict``: values against targets, and the states of the alarms.
- ``scale``: what a scale shows, whatever stage it serves: settled loads, pours, pieces.
- ``stages``: a watcher for each kind of stage.
"""

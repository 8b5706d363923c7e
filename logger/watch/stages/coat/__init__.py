"""Coating: mass and thickness of each coat, and the dwell it will need in the bath.

In reading order:

- ``watcher``: the stage watcher; takes readings and events, asks the modules below.
- ``dips``: which weighing belongs to which dip, or what each dip took out of the vessel.
- ``thickness``: from mass to thickness, what a coat may weigh, and the dwell it needs.
- ``findings``: what is judged of the coats, and the notes under the numbers.
"""

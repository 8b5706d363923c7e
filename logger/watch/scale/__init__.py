"""What a scale shows, whatever stage it serves: settled loads, pours, formed pieces.

In reading order:

- ``loads``: when a scale is at rest, and one load after another on it.
- ``pour``: when a pour begins and ends, how much and how fast.
- ``pour_curve``: the rising curve that a pour is read off, and its two ends.
- ``pieces``: what is known of the formed pieces, and their table in the results.
"""

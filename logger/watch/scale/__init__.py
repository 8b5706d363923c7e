"""What a scale shows, whatever stage it serves: settled loads, pours, formed pieces.

In reading order:

- ``loads``: when a scale is at rest, and one load after another on it.
- ``running``: medians, ranges and noise along the half seconds of a scale.
- ``change``: a change from one level of a scale to the next, as plain values.
- ``pour_levels``: levels of a scale, and those changes.
- ``pour_hands``: changes that are one act joined: a hand that leans, the bowl lifted.
- ``pour_seen``: what a change seems by itself: a flow, at once, out, over a gap.
- ``pour_fit``: which of what may have been poured fits with what there was to pour.
- ``pour_parts``: what each change was: poured, put in, taken out, the bowl lifted.
- ``pour_ends``: when a pour began and when it ended.
- ``pour``: pours, their mass, portions and rate.
- ``pieces``: what is known of the formed pieces, and their table in the results.
"""

"""Weighing in.

In reading order:

- ``bench``      the scale, watched all the time: late, early and forgotten stages
- ``watcher``    the stage watcher: whose turn it is and how much is missing
- ``weighing``   one weighing: ingredients, rows, findings and questions from the modules below
- ``tasting``    what is added to taste once the rest is weighed in: asked, noted, not judged
- ``levels``     the levels of the scale, from its readings
- ``booking``    what an assignment comes to: portions, bookings, a question
- ``assignment`` which load was which ingredient, and how sure that is
- ``doubts``     which masses the levels alone can't carry
- ``hypotheses`` what may have happened between two levels
- ``states``     what a hypothesis says so far
- ``likelihood`` how likely that is
- ``weighed``    a row of each ingredient, with shares and cost, and its mass judged
"""

"""Which piece was in the bath from when to when, from the scale under the bath alone.

In reading order: `plateaus` cuts the stream of readings into levels, `edges` times the ways between
them; `steps` says how large a change is and how well that is known; `chances` holds the likelihoods
of what people do at a bath, `deeds` the words for it; `ways`, with `twos` for two pieces at once,
tells what may have happened between two plateaus and `lattice` weighs every story that explains all
of them at once; `learn` takes from the run itself what is not known before (drag, usual dwell,
buoyancy); `rows` joins ways in to ways out; `table` adds times, confidence and candidates;
`detector` is the door.
"""

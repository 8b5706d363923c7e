"""Alginate coats: how thick, how much calcium they bind, how long they need.

- ``alginate``  how much calcium a coat can bind
- ``coating``   how much a coat weighs says how thick it is
- ``gelfront``  how far calcium's front comes into a flat gel, and how fast calcium moves
- ``gelling``   how long a coat must stay in a bath to set through
- ``dwell``     the dwell a coat needs, as a range, and how far it has come
- ``slabfit``   the diffusivity fitted to the readings of a slab test
- ``slabs``     slab tests of one's own alginate, and their file
"""

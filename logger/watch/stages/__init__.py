"""A watcher for each kind of stage: what it reads, says, judges and finds.

In the order of a batch:

- ``weigh``, ``hydrate``: ingredients against the sheet; a binder takes up water.
- ``heat``, ``cooling``, ``fat_curve``: the warm phases, the time left, a fat's own cooling curve.
- ``emulsify``: one phase poured into the other.
- ``form``, ``coat``: pieces weighed one by one, and their coats.
- ``set``, ``rinse``, ``dry``: the calcium bath, fresh water, the rack.
- ``work``: what nothing measures, words and a time.
- ``core``, ``chill``, ``cook``, ``hold``: what a core probe shows, cold and hot.
"""

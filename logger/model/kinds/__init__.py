"""Kinds of stage: one module and one record for each, and the only list of them.

- ``record/``   what a record says, and where its parts are looked for
- ``weigh``, ``hydrate``, ``heat``, ...  one kind each
- ``registry``  all of them in the order of the work, and look-ups
"""

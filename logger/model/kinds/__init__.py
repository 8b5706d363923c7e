"""Kinds of stage: one module and one record for each, and the only list of them.

- ``stage``     what every stage of a sheet has, and the shape of pieces
- ``kind``      what a record says: model, roles with their targets, figures, traits
- ``weigh``, ``hydrate``, ``heat``, ...  one kind each
- ``registry``  all of them in the order of the work, and look-ups
- ``parts``     finds the module in which a room keeps its part of a kind
"""

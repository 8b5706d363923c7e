"""What the record of a kind is made of.

- ``stage``  what every stage of a sheet has, and the shape of pieces
- ``kind``   what a record says: model, sensors with their targets, figures, checks, traits
- ``parts``  finds the module in which a room keeps its part of a kind
"""

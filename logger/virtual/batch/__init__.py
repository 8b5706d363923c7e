"""A batch as a script: what the cook does and says, what goes wrong, what came out.

- ``causes``         root causes that can be injected, with the defect each leads to
- ``circumstances``  what differs from batch to batch
- ``acts``           the words of a script, with their times
- ``cook``           the cook who writes it: a clock that wanders, stages, probes that move
- ``ware``           what stands on the scales beside the food
- ``kinds``          what the cook does in each kind of stage
- ``scenario``       the whole script of a batch
- ``judge``          what came out, as truth to score against
"""

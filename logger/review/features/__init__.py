"""The numbers taken of every run.

- ``facts``           what is known of a finished run
- ``feature``         what one number is
- ``stage_features``  numbers that any kind of stage can have
- ``kinds``           numbers of each kind of stage
- ``features``        all numbers of a run
- ``portrait``        what is kept of a run to compare it
"""

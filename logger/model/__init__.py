"""Plain typed data that every room shares; imports nothing of ours.

- ``errors``    what can go wrong, by whose fault
- ``quantity``  text with a unit to a number in the unit the code uses, and back
- ``reading``   one value of one channel at one time, raw and corrected
- ``event``     anything else with a time
- ``ports``     forms of a port's name that are taken
- ``bench``     instruments, channels and their wiring: ``bench.toml``
- ``kinds``     kinds of stage, one record each: what every room asks instead of a list
- ``written``   building blocks for files that people write: fields with units, bands
- ``recipe``    ingredients as a cook writes them, and the list that is weighed
- ``sheet``     ingredients, stages and targets: ``*.sheet.toml``
- ``files``     text of a bench or sheet file to data, with errors a person can act on
- ``lines``     on which line of a text a key stands
- ``history``   what a run's events come to: corrections applied, later notes added
- ``checks``    every check there is, by its key
- ``finding``   verdicts with their evidence, and the other results of a run
- ``rows``      rows of results and state: one record for each kind of row
- ``explained``  what an explanation looked at
- ``photos``    photos of a run, and the form in which one is kept
- ``state``     what the screen shows of a run at this moment
- ``plainly``   results and state to plain JSON values, and back
"""

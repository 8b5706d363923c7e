"""Looking back at a run and ahead at a batch.

In reading order:

- ``plan``      what a sheet will lead to, before anything is weighed
- ``features``  the numbers taken of every run
- ``compare``   runs next to each other, and what a change did
- ``why``       why a batch came out as it did: ranked causes with their evidence
- ``learn``     sheets written, scaled, compared, and made from runs
- ``headline``  what a run came to, in one sentence
- ``targets``   temperatures that the stages aim at, and short names of stages
- ``papers``    a run to hand on
- ``trace``     the readings of a run file, corrected
- ``mover``     which channel moved: a probe warmed in the hand
"""

"""Every fault that a bench can have, against the whole product: ``python -m tests.faults``.

- ``scenario``   the virtual bench, a recorder process, and somebody who watches the screen's state
- ``cases``      faults of instruments: when each strikes, and what must be noticed
- ``bench_rows`` those, acted out by the virtual bench over pseudo-terminals, and judged
- ``scale``      a numbered scale and a recorder to start and kill
- ``scale_rows`` faults that need lines of their own: a unit nobody knows, a flood
- ``own_rows``   faults that a pseudo-terminal cannot show: clock, disk, kill, power, restart
"""

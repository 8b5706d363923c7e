"""Every fault that a bench can have, against the whole product: ``python -m tests.faults``.

- ``scenario``   the virtual bench, a recorder process, and somebody who watches the screen's state
- ``bench_rows`` faults of instruments, acted out by the virtual bench over pseudo-terminals
- ``own_rows``   faults that a pseudo-terminal cannot show: clock, disk, kill, power, restart
"""

"""A simulated batch over real ports, in batch time.

- ``batch_clock``  one origin and one speed for all instruments
- ``bench_file``   the bench file and the sheet that belong to the batch
- ``printed``      samples as the bytes an instrument sends for them
- ``line_faults``  faults of the line, on the bytes
- ``questions``    what an instrument hears, cut into the questions that it knows
- ``outgoing``     what it has yet to send
- ``terminals``    pseudo-terminals, or TCP where there are none
- ``player``       the thread of one instrument
- ``instruments``  the bench: all instruments, one clock, and the files for it
"""

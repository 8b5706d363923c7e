"""The process that joins ports, wire, correct, watch and store.

- ``wiring``    chunks of bytes to corrected readings of channels; the same live and on replay
- ``pipeline``  readings and events into the engine in time order; the same live and on replay
- ``session``   the recorder of one data folder: instruments, runs, commands
- ``current``   watching the bench, or recording a run
- ``inbox``     where everything waits for the writer
- ``command``   a command on its way to the writer and back
- ``clocks``    the machine's clocks against the run's axis
- ``clockwatch`` anchors, clock steps and sleep, as events of the run
- ``commits``   one transaction a turn; what a full disk did not take waits in memory
- ``latest``    the state, handed to whoever asks
- ``writer``    the thread that alone parses, judges and writes
- ``recovery``  runs that a kill or a reboot left behind
- ``replay``    a run worked out again from its raw bytes
- ``beside``    traces without lag, worked out when a run ends
- ``intake``    an imported file judged like a live run
- ``setup``     from the files of a bench to what a recorder is started with
- ``own_files`` results written back into files that people write
- ``own_slabs`` a slab test kept in the data folder
- ``saved_sheets`` a sheet saved from the screen; its revision counts up
- ``sensor_check`` a sensor held against a known value
- ``care``      what the screen changes beside a run: sheets, roles, corrections
- ``launch``    a recorder in a process of its own
- ``process``   the process itself: start, signals, stop
"""

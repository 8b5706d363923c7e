"""The process that joins ports, wire, correct, watch and store.

- ``wiring``    chunks of bytes to corrected readings of channels; the same live and on replay
- ``pipeline``  readings and events into the engine in time order; the same live and on replay
- ``session``   the recorder of one data folder: instruments, runs, commands
- ``writer``    the thread that alone parses, judges and writes
- ``recovery``  runs that a kill or a reboot left behind
- ``replay``    a run worked out again from its raw bytes
- ``intake``    an imported file judged like a live run
- ``process``   the process itself: start, signals, stop
"""

"""The process that joins ports, wire, correct, watch and store.

- ``setup``    from the files of a bench to what a recorder is started with
- ``live``      a run while it is recorded: owner, writer, inbox, commands
- ``replay``  a run worked out again from its file; runs left behind; imports
- ``corrections``  what was done, taken back or moved in time
- ``care``    what a person changes beside a run: sheets, roles, corrections
- ``process``  the process itself: start, signals, stop
- ``stopping`` a request to stop that a signal may make
- ``launch``   starts a recorder in a process of its own
- ``keeper``   waits for one that is stopped, replaces one that was killed
- ``takeover`` what a command that was killed left behind
"""

"""A run while it is recorded, in threads that hand on in one direction.

Port threads (``logger.ports``) -> inbox -> owner -> writer -> run file and screen.

- ``clocks``      the machine's clocks against the run's axis
- ``wiring``      chunks of bytes to corrected readings of channels; the same live and on replay
- ``pipeline``    readings and events into the engine in time order; the same live and on replay
- ``current``     watching the bench, or recording a run: wiring, pipeline and what is to be written
- ``command``     a command on its way to the owner and back, and what the run under way refuses
- ``inbox``       where ports and commands wait for the owner
- ``turn``        what the owner hands to the writer
- ``latest``      the state, handed from the writer to whoever asks
- ``commits``     one transaction a turn; what a full disk did not take waits in memory
- ``writer``      the thread that alone writes run files
- ``clockwatch``  anchors, clock steps and sleep, as events of the run
- ``table``       the ports of the bench as it is wired now
- ``runs``        how a run begins and ends
- ``owner``       the thread that owns the run: readings, events and commands meet the engine here
- ``session``     the recorder of one data folder: joins all of these
"""

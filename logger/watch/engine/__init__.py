"""The stream: readings, events and ticks in; events, findings and a state out.

- ``contract``  what a watcher is to the engine, and what the engine hands it
- ``plain``     a watcher that only keeps time; base of the others
- ``registry``  the watcher of each kind of stage, and those that live as long as the run
- ``merge``     several ports into one stream in time order
- ``stages``    which stage is under way, which ran before, which comes next
- ``run``       all that changes in a run, what was said, and who is told
- ``course``    how stages begin and end, and how the run ends
- ``acts``      what the operator's events do
- ``undo``      taking back the last act
- ``then``      a stage that begins at an earlier time, as the bench saw it
- ``screen``    what the screen shows at this moment
- ``engine``    one engine for live and replay
"""

"""One engine for live and replay: stages, detectors, forecasts, checks, alarms. Pure.

- ``contract``   what a watcher is to the engine, and what the engine hands it
- ``merge``      several ports into one stream in time order
- ``engine``     the stream: readings, events, ticks, taking back
- ``run``, ``course``, ``acts``  what changes in a run, how stages begin and end, what operators do
- ``stages``, ``undo``, ``now``  bookkeeping of stages, points to return to, the state shown
- ``kinds``      which watcher looks after which kind of stage
- ``checks``, ``limits``  verdicts in words, conditions with deadband
- ``alarm``, ``alarms``   the states of one alarm, all alarms of a run
- ``health``, ``pulse``, ``doubts``, ``probechecks``  silence, tares; values in doubt;
  what a stage needs; overdue checks
- ``plain``      base of the watchers
- ``weigh``, ``weighed``, ``pan``, ``steady``, ``mixture``   weighing in
- ``hydrate``    a binder takes up water
- ``heat``, ``warmphases``, ``heattold``, ``phases``, ``meeting``, ``probe``, ``forecast``,
                the warm phases, where they land together, and the time left
- ``emulsify``, ``poured``, ``pour``, ``pourtrack``, ``pourends``, ``emulsion``,
  ``aftercombining``, ``fatcurve``  pouring, setting, also while it is formed, a fat's own curve
- ``core``, ``chill``, ``cooling_clock``, ``freezing``, ``cook``, ``hold``, ``danger``  a core probe
- ``form``, ``coat``, ``coattold``, ``pieces``, ``singles``, ``dips``, ``dipvessel``,
  ``thickness``, ``needed``  pieces weighed one by one, their coats, and the dwell these will need
- ``setbath``, ``skin``, ``amounts``, ``bathboard``, ``bathcalcium``, ``bathfindings``,
  ``bathgaps``, ``bathnews``, ``bathpieces``, ``bathresults``, ``bathtold``, ``bathwords``
  the calcium bath
- ``rinse``, ``dry``, ``rack``  after the bath
- ``immersion``  pieces in the bath, from the scale under it
"""

"""The virtual bench: a batch that really happens, and instruments that speak of it.

In reading order:

- ``causes``, ``circumstances``   what differs from batch to batch, and what goes wrong
- ``acts``, ``ware``, ``cook``, ``kinds``, ``scenario``
  the script: what the cook does and says, and when
- ``shapes``, ``vessels``, ``probe``, ``equipment``, ``roll_core``, ``gelling_coat``, ``facts``,
  ``physics``  what physically happens, and what a probe shows of it
- ``bathscale``, ``bath_reading``, ``scale_readings``   what lies on the three scales;
  ``bath_script``, ``bath_session`` play sessions at the bath alone, for scoring
- ``judge``                       what came out, as truth to score against
- ``loads``, ``traces``, ``faults``, ``simulate``   how instruments read it, and what breaks
- ``printed``, ``line_faults``, ``questions``, ``terminals``, ``outgoing``, ``batch_clock``,
  ``player``, ``instruments``, ``bench_file``, ``process``   the
  same over real ports
- ``cooling_runs``                cooling curves for the accuracy tables
"""

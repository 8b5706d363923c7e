"""Heat: water, vessels that cool, probes that lag, rules for cooling and heating.

- ``water``          boiling point, density, heat capacity, viscosity of pure water
- ``cooling``        how a vessel left alone loses its heat, in closed form
- ``losscurve``      the loss curve that fits its readings, and how well it is known
- ``timeleft``       when it reaches a limit, as a range
- ``pouring``        what the air takes while one phase is poured into the other
- ``lag``            a probe's lag taken off a finished trace
- ``plunge``         the time constant of a probe from a plunge into stirred water
- ``corerate``       how fast the core of a piece can change at most
- ``cooling_rules``  named rule sets for cooling and holding, from ``rulesets.toml``
- ``lethality``      what a published heating table credits for a time at a temperature
"""

"""Physics as pure functions of numbers; imports nothing of ours but `model`.

- ``its90`` Thermocouple emf to temperature and back, by the ITS-90 reference functions.
- ``its90_curve`` The piecewise reference function of one thermocouple type and its root finding.
- ``its90_coefficients`` Coefficients of the ITS-90 thermocouple reference functions, types B, E,
  J, K, N, R, S, T.
- ``tolerance`` How far new thermocouple wire, or a platinum resistor, may be off: the standards'
  classes.
- ``reference_points`` Known temperatures for checking a probe: melting ice, and water boiling at
  today's pressure.
- ``water`` Pure water: boiling point and vapour pressure, density, heat capacity, viscosity.
- ``lag`` How far a probe runs behind the food, and what to do about it afterwards.
- ``plunge`` The time constant of a probe from a plunge into stirred water.
- ``uncertainty`` How far a number can be trusted: combining uncertainties by the GUM.
- ``conformance`` Is the limit met, given what the probe can know? Guard-banded decisions.
- ``balance`` How far a balance may be off: class limits and the uncertainty of a net mass.
- ``fitting`` One way to fit a curve: weighted nonlinear least squares, with what the fit can
  know.
- ``blocks`` Readings gathered into block means on a fixed grid of time.
- ``losscurve`` The loss curve that fits the readings of a vessel left alone, and how well it is
  known.
- ``timeleft`` How many minutes until a vessel left alone reaches a limit, as a range.
- ``cooling`` How a vessel left alone loses its heat: the loss model in closed form.
- ``setting`` When a cooling fat began to set: a warming that its own loss curve does not explain.
- ``mixing`` Where the temperature lands when phases are combined, by the balance of their heat.
- ``pouring`` What the air takes while one phase is poured into the other.
- ``fats`` What is known of each fat: two limits, solid fat content, heat and density, with
  sources.
- ``fatfile`` Fats as a file says them: read from ``fats.toml`` and a person's own, and written.
- ``emulsion`` How crowded an emulsion is: fat by mass to droplets by volume, and when to say so.
- ``calcium`` How much free calcium a bath holds, and what each piece takes from it.
- ``alginate`` How much calcium an alginate coat can bind.
- ``gelfront`` How far calcium's front comes into a flat gel, and how fast calcium moves.
- ``gelling`` How long a coat must stay in a calcium bath to set through.
- ``dwell`` The dwell a coat needs, as a range, and how far it has come.
- ``slabfit`` The diffusivity fitted to the readings of a slab test.
- ``slabs`` How fast calcium moves in one's own alginate: slab tests and their file.
- ``coating`` How much a coat weighs says how thick it is.
- ``inventory`` What is left in the bath: bound, taken up, dragged out, diluted.
- ``submerged`` What a scale under a bath reads when something hangs in it or lies in it.
- ``drying`` Has the rinse water gone from the skin?
- ``cooling_rules`` Named rule sets for cooling and holding, read from ``rulesets.toml`` beside
  this module.
- ``lethality`` What a published heating table credits for a time at a temperature.
- ``isotone`` The rising curve nearest to noisy values, in the sense of least absolute deviations.
- ``pourstart``, ``pourchain``, ``scalenoise`` When a pour began, as a probability; how noisy a
  scale is.
- ``portions`` Amounts that belong together: what to add when one was overshot, shares by mass.
- ``settingpoint`` Reading a fat's own setting limits off the curve of a melted sample that cools.
"""

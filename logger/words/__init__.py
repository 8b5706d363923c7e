"""How quantities, times, bands, money, counts and verdicts are written; the only room that does.

Pure text out of numbers; imports nothing of ours but logger.model. Every screen, command, report,
finding and alarm asks here, so that a thing is written one way everywhere. Reading order:

- ``digits``: a number with so many places, its minus sign, and numbers as they are exported.
- ``durations``: clocks, durations in sentences, rounded times left, ages.
- ``dates``: days and clock times of the wall.
- ``values``: a value with its unit and uncertainty, limits, percentages.
- ``bands``: a target, from both ends or from one.
- ``money``: amounts and prices.
- ``counts``: how many of a thing.
- ``labels``: what a check is called, from its key and its subject.
- ``acts``: what an operator did, by name.
- ``shown``: numbers beside each other, in the units of the program.
- ``steps``: what a stage says of the work beside its targets.
- ``fields``: what the fields of a sheet are called, and what a form says beside them.
- ``twofold``: quantities for readers of both systems.
- ``verdicts``: a verdict by name, and the sentence of evidence behind it.
- ``vocabulary``: what the words on screens and papers mean.

``dashboard/assets/ages.js`` writes the ages that tick in the browser, as ``durations.age_text``.
"""

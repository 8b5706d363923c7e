"""Why a batch came out as it did.

- ``unlike``       whether a number is unlike those of a few good runs
- ``pieces``       which pieces show a defect, and what sets them apart
- ``knowledge``    what leads to which defect and how it shows
- ``broken``       limits that the run broke, its pieces together
- ``evidence``     how strongly a run shows a sign
- ``likelihood``   how likely a cause is by the strength of its signs
- ``explanation``  ranked causes with their evidence, as plain values
- ``answer``       the answer in a sentence, and what was not measured
- ``considered``   each candidate, and the number that rules it out or leaves it open
- ``explain``      causes in order, or that none stands out
- ``group``        several runs with one defect, each number of each run
"""

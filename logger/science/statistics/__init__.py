"""Curves fitted to readings, exact tests, noise of a scale, and when a pour began.

- ``fitting``     weighted nonlinear least squares
- ``blocks``      readings gathered into block means on a fixed grid of time
- ``isotone``     the rising curve nearest to noisy values
- ``control``     control limits of single values
- ``exact``       exact tests of small counts: a share, two shares, two groups
- ``scalenoise``  how noisy a scale is, and by what means it is least so
- ``pourchain``   forward and backward through the chances of level, flow, pause and touch
- ``pourstart``   when a pour began, as a probability
"""

"""What past runs teach: comparison, explanation, and the next sheet.

- ``portraits``  the numbers of finished runs, worked out once
- ``overlay``    traces of several runs laid over each other
- ``together``   the page that compares runs
- ``reasons``    the page that says why a run came out as it did
- ``sheets``     the page of batch sheets, with what a sheet will lead to
"""

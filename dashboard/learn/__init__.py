"""What past runs teach: comparison and explanation.

- ``portraits``  the numbers of finished runs, worked out once
- ``goodband``   lowest and highest of good batches along time
- ``overlay``    traces of several runs drawn in one graph
- ``differ``     what differs between runs, ranked, and effects with their intervals
- ``groups``     many runs in two groups, and how they differ
- ``comparing``  what is drawn of runs compared
- ``together``   the page that compares runs
- ``control``    one number over the runs of a product: a control chart
- ``shown``      the traces of a run with the evidence on them
- ``grounds``    the grounds for a cause: numbers, doubts, other candidates
- ``reasons``    the page that says why a run came out as it did
"""

"""The screen: draws the recorder's state and sends it commands. Computes nothing of its own.

In reading order:

- ``palette``   colours of ground, tone and trace
- ``measures``  numbers as a person reads them: degC or degF, g or oz, minutes
- ``guard``     who may ask: host names, token, headers
- ``links``     what a page may reach: recorder, run files, catalog
- ``shell``     the frame around each page
- ``live``      at the bench: what now, how long, is anything wrong
- ``runs``      the list of past runs, and one run
- ``learn``     runs side by side, why one failed, the next sheet
- ``wiring``    the instruments on the table
- ``app``       puts the pages together
- ``serve``     answers requests
"""

"""The screen: draws the recorder's state and sends it commands. Computes nothing of its own.

In reading order:

- ``palette``   colours of ground, tone and trace
- ``measures``  numbers in the units that a person chose: degC or degF, g or oz
- ``points``    pieces of a trace, and how they are made fewer to be drawn
- ``graphs``    the empty place of a graph, and the form in which figures travel
- ``markup``    components as JSON, for pages that draw by themselves
- ``stores``    what a page keeps in the browser, as checked records
- ``answers``   what the recorder answers, as records
- ``tryout``    what a screen may know of the virtual bench beside it
- ``links``     what a page may reach: recorder, run files, catalog
- ``doors``     what stands between a browser and the pages: connections, payloads
- ``guard``     who may ask: host names, token, headers
- ``help``      the question mark: what to know of each page, the words it uses
- ``shell``     the frame around each page
- ``live``      at the bench: what now, how long, is anything wrong
- ``runs``      the list of past runs, and one run
- ``photos``    photos of a run: shown, and added
- ``learn``     runs compared, why one failed
- ``sheets``    batch sheets: form, text, plan, revisions, papers
- ``wiring``    the instruments on the table
- ``app``       puts the pages together
- ``memory``    freed memory goes back to the system
- ``serve``     answers requests
"""

"""Past runs: the list, and one run whole.

- ``listing``  the list with search and filters
- ``card``     one line of the list, with its small picture
- ``window``   what of a long trace is drawn for a window: every reading, or lowest and highest
- ``ribbon``   behind the traces: stages, targets, the pour
- ``lanes``    the figure of a whole run
- ``legend``   the lines of a graph by name, each drawn or not
- ``told``     a graph in words and as a table
- ``bars``     values against their target, pieces as bars
- ``verdict``  what a run came to: one sentence, counts, checks not met
- ``tables``   findings by stage; dwells, pours, alarms, gaps, notes
- ``outcome``  how it came out, and notes added later
- ``handing``  report and tables, as downloads
- ``head``     the head of the page of one run
- ``contents`` figure, words and tables of one run
- ``one``      the page of one run
"""

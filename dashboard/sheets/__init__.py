"""The page of batch sheets: form, text, plan, revisions, papers.

- ``origins``  where the text of a sheet may come from: saved, the defaults, runs
- ``outlook``  what is wrong with a text, what to expect of it, what it changes
- ``shown``    the form of a text as the browser draws it, with warnings and predictions
- ``form``     the grid of ingredients, the cards of stages; what is typed is made in the text
- ``acts``     a text saved, or a batch begun with it, by the recorder
- ``papers``   a sheet on paper: its links and routes
- ``page``     the page
"""

"""A sheet's text as a form, and what is typed into the form as text. Pure.

- ``fields``   which keys of a table the form shows, from the models of the sheet
- ``places``   the tables that the form shows, those inside others with them
- ``reading``  the form of a text: rows of ingredients, cards of stages, what stays in the text
- ``tables``   where tables begin and end in a text; moving, adding and removing them
- ``changes``  one change of the form made in the text; comments and order stay
- ``pasted``   a list from a spreadsheet or a message as rows
- ``heads``    words that head the columns of such a list, in five languages
- ``meant``    what an amount with a comma may mean, as changes of one tap
- ``sums``     shares and warnings, each at its row and field
"""

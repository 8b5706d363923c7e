"""What the demo plays, loaded behind the page that shows how far it is.

- ``examples``  finished runs for an empty data folder
- ``hands``     what the cook of the virtual bench says, when it is time
- ``batch``     bench, recorder, hands and screen, until Ctrl-C
"""

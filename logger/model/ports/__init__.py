"""What a bench file may call a port.

- ``forms`` the forms that are taken, each with its reason; everything else is refused
"""

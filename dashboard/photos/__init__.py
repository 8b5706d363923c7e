"""Photos of a run: shown on its page, and added there.

- ``drawing``  the photos as a row of pictures, and the place of the form
- ``doors``    the routes that give a picture out and take one in
"""

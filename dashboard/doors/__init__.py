"""What stands between a browser and the pages.

- ``address``   where the screen listens
- ``visitors``  connections: deadlines, how many there may be, and two queues of requests
- ``waiting``   a page that stands at the address while the screen is being prepared
- ``payloads``  what a page sends, compared with what its callbacks take
- ``refusals``  the log of refused requests: short lines, so many a minute
"""

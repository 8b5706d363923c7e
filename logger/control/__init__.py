"""The line between the recorder and whoever talks to it: screens and commands.

- ``messages`` what is said, as one JSON object a line; limits and checks
- ``requests`` what can be asked of a run, each with its own fields
- ``care_requests``  what can be asked of sheets, sensors and the bench file
- ``door``     a request of a client, checked
- ``acts``     what the sheet of a run lets an act say
- ``sensor_answer``  what a person answers when asked for a sensor's type and class
- ``address``  where the recorder of a data folder can be reached
- ``server``   the recorder's end
- ``client``   the other end

A loopback TCP port with a token in a file that only the same user can read: the same on every
system, and no length limit on the path of the data folder, which a socket file would have.
"""

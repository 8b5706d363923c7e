"""The data folder: one recorder at a time, many readers.

- ``lock``        a lock that dies with its holder
- ``scratch``     folders for the time of one task, and the sweeping of what a kill left
- ``given``       files that a person names: ordinary ones, read no further than a limit
- ``datafolder``  where runs, sheets and the bench file lie
- ``earlier``     revisions of a sheet that were replaced
- ``entries``     one run as the list of runs has it
- ``catalog``     the list of runs, rebuilt from the files
- ``runbin``      runs that were removed, until the bin is emptied
- ``backup``      a consistent copy of a folder, and a folder from a copy
"""

"""Looking back at a run: plan, corrected traces, comparison, explanation, report contents.

- ``trace`` the readings of a run file, corrected as they were live
"""

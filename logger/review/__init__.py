"""Looking back at a run and ahead at a batch: plan, sheets, features, causes, comparison, report.

- ``planned``    what a plan is made of
- ``amounts``    phases, concentrations, bath and coat of a sheet
- ``heat_plan``, ``skin_plan``, ``batch_plan``  the parts of a plan
- ``plan``       what a sheet will lead to, before anything is weighed
- ``trace``      the readings of a run file, corrected as they were live
"""

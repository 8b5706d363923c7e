"""Looking back at a run and ahead at a batch: plan, sheets, features, causes, comparison, report.

- ``planned``  what a plan is made of
- ``heat_plan``, ``skin_plan``, ``batch_plan``, ``plan``  what a sheet will lead to
- ``sheet_text``, ``sheets``, ``learned``  sheets written, scaled, compared, and made from runs
- ``trace``, ``facts``  the readings of a run file, corrected; what a review takes of a run
- ``feature``, ``stage_features``, ``kinds``, ``features``  the numbers taken of every run
- ``portrait``  what is kept of a run to compare it
- ``unlike``, ``effects``  honest statistics of few runs
- ``knowledge``, ``evidence``, ``explain``, ``answer``, ``explanation``  why a batch came out as it
  did: ranked causes, the sentence, the values
- ``compare``  runs side by side
- ``figures``, ``fingerprint``, ``report_content``, ``report_words``, ``report``,
  ``report_pages``  a run to hand on
- ``known``  the fats a review may know
- ``mover``  which channel moved: a probe warmed in the hand
"""

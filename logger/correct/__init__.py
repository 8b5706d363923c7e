"""From what an instrument sent to a value with its uncertainty. Pure.

Reading order: ``channel`` (the door: one channel's readings, corrected), ``correction`` (dated
checks), ``standing`` (how long ago, in words), ``budget`` (which lines a channel's uncertainty
has), ``terms`` (what a line is), ``check`` (an ice point, boiling point or check weight read at the
bench), ``lagless`` (a finished trace without its probe's lag), ``tares``
(what accepted tares add to a scale).
"""

"""The same evidence gives the same answer as last time: a record of answers, true or not.

lines: values as lines of text. stock: values to call functions with. calls: functions of the pure
rooms with made-up arguments. sessions: work played through the engine. reviews: what is said of
runs. by_formula: streams for sessions. answers: what is kept. ``python -m tests.answers --write``
keeps today's.
"""

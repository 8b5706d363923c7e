"""A run under the engine's eyes, up to a time; what the engine says of it."""

from logger.watch.engine.engine import SECOND_NS, Engine


class Watched:
    """What is asked of an engine that was fed up to `t_s` [s]; who feeds it is a child's matter."""

    engine: Engine
    t_s: float

    @property
    def state(self):
        return self.engine.state(round(self.t_s * SECOND_NS))

    @property
    def view(self):
        return self.state.view

    @property
    def text(self):
        view = self.view
        return " ".join([view.say, *view.more])

    def numbers(self):
        return {n.label: n for n in self.view.numbers}

    def alarms(self):
        return {a.id: a for a in self.state.alarms}

    def end(self):
        """Finish the run; return its findings by their checks."""
        return {f.check: f for f in self.engine.finish(round(self.t_s * SECOND_NS)).findings}

"""An engine each of whose stages is watched by one that remembers what it was fed."""

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.watch.engine.contract import Condition
from logger.watch.engine.engine import SECOND_NS, Engine
from logger.watch.engine.plain import Plain

S = SECOND_NS
BENCH = bench_of_roles(["fat", "water", "bath_scale"])


class Recording(Plain):
    """A watcher that remembers what it was fed, and wants to end after ten readings above 60."""

    def __init__(self, context):
        super().__init__(context)
        self.log = []
        self.hot = 0

    def reading(self, reading):
        self.log.append(("reading", reading.t_ns, reading.value))
        if reading.value is not None and reading.value > 60.0:
            self.hot += 1
            if self.hot % 5 == 0:
                self.context.out.emit(reading.t_ns, "crossed", f"hot {self.hot}", channel="fat")

    def event(self, event):
        self.log.append((event.kind, event.t_ns, event.text))

    def tick(self, t_ns):
        super().tick(t_ns)
        self.log.append(("tick", t_ns, None))

    def end(self, t_ns):
        self.context.out.results.values.setdefault("logs", []).append(list(self.log))

    def conditions(self):
        hot = self.hot > 7
        return [
            Condition(
                id=f"{self.context.stage_id}.hot",
                text="too hot",
                active=hot,
                cleared=not hot,
                on_delay_s=2.0,
                latches=True,
            )
        ]

    def finished(self):
        return "hot enough" if self.hot >= 10 else None


def sheet_ending_by(who):
    stages = "".join(
        f'[[stage]]\nid = "{name}"\nkind = "rinse"\nends = "{who}"\n' for name in ("a", "b", "c")
    )
    return sheet_from_text(f'[sheet]\nname = "Roll"\n{stages}', "roll.sheet.toml")


def operator(kind, t_s, text="", **data):
    return Event(t_ns=round(t_s * S), kind=kind, source="operator", text=text, data=data)


def at(t_s, value=50.0, channel="fat", flags=0):
    return Reading(channel, round(t_s * S), value, 0.3, flags)


def engine_of(sheet):
    return Engine(sheet, BENCH, correctors={})

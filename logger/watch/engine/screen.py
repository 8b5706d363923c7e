"""What the screen shows at this moment, put together from the engine's parts.

Pure and read-only; called by logger.watch.engine.engine. The recorder adds what only it knows
(ports, disk, version, the run's id).
"""

from collections.abc import Collection
from typing import TYPE_CHECKING

from logger.model.bench import Bench
from logger.model.kinds.registry import kind_of, target_of, title_of
from logger.model.sheet import Sheet
from logger.model.state import ChannelView, RunAbout, StageView, State
from logger.watch.engine.contract import judged_rule, seconds
from logger.words.steps import step_words

if TYPE_CHECKING:
    from logger.watch.engine.run import Scene


def state(
    sheet: Sheet, bench: Bench, scene: "Scene", t_ns: int, assumed: Collection[str] = ()
) -> State:
    """Return the whole state at a time.

    Parameters
    ----------
    sheet : Sheet
        Of the run.
    bench : Bench
        Of the run.
    scene : Scene
        All that changes in it.
    t_ns : int
        Time on the run's axis [ns].
    assumed : collection of str
        Ids of the channels whose uncertainty was assumed.
    """
    stage = scene.stages.current
    return State(
        phase="ended" if scene.ended_ns is not None else scene.phase,
        t_s=seconds(scene.ended_ns if scene.ended_ns is not None else t_ns),
        run=RunAbout(
            sheet=sheet.sheet.name,
            revision=sheet.sheet.revision,
            rule=judged_rule(sheet),
            bench=bench.bench.name,
        ),
        stage=stage.id if stage is not None else None,
        stages=scene.stages.ribbon(),
        view=_marked(_view(scene, t_ns), scene, bench, assumed),
        channels=_channels(bench, scene),
        alarms=scene.alarms.view(),
        proposals=list(scene.out.proposals.values()),
        acts=list(scene.out.results.acts),
        tares=list(scene.out.results.tares),
    )


def _view(scene: "Scene", t_ns: int) -> StageView:
    if scene.watcher is not None:
        view = scene.watcher.view(t_ns)
        for watcher in scene.run_long:
            beside = watcher.view(t_ns)
            view.more += beside.more
            view.forecasts = [*view.forecasts, *beside.forecasts]
        if scene.stages.current is not None:
            view.more = [*view.more, *step_words(scene.stages.current)]
        return view
    following = scene.stages.following()
    if scene.ended_ns is not None:
        return StageView(say="The run has ended")
    if scene.phase == "idle":
        return StageView(say="Ready to record")
    if following is None:
        return StageView(say="All stages are done: end the run", tone="do")
    return StageView(say=f"Next: {title_of(following)}", tone="do")


def _marked(view: StageView, scene: "Scene", bench: Bench, assumed: Collection[str]) -> StageView:
    """Mark the judged numbers of a stage that uses a sensor of assumed uncertainty, and say so."""
    stage = scene.stages.current
    if stage is None or not assumed:
        return view
    roles = {use.role for use in kind_of(stage).uses}
    own = getattr(stage, "channel", None)
    used = [c.name for c in bench.channel if c.id in assumed and (c.role in roles or c.id == own)]
    if used:
        for number in view.numbers:
            number.assumed = number.unit != "s" and (number.low, number.high) != (None, None)
        view.more.append(f"Uncertainty assumed, nobody knew it: {', '.join(used)}.")
    return view


def _channels(bench: Bench, scene: "Scene") -> list[ChannelView]:
    stage = scene.stages.current
    views = []
    for channel in bench.channel:
        view = scene.health.view_of(channel)
        band = target_of(stage, channel)
        if band is not None:
            view.low, view.high = band.low, band.high
        views.append(view)
    return views

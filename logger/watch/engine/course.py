"""The course of a run: how stages begin and end, and how the run ends.

Pure; works on a `logger.watch.engine.run.Run`. A stage ends by the operator, by the sheet's rule
(taken at once, one tap takes it back) or by what the bench sees (proposed first).
"""

from logger.model.kinds.registry import Stage, title_of
from logger.model.state import Proposal
from logger.watch.engine import registry as kinds
from logger.watch.engine.contract import Watcher, seconds
from logger.watch.engine.run import Run
from logger.watch.engine.undo import Past


def begin(run: Run, stage: Stage, t_ns: int) -> None:
    """Begin a stage; the one under way ends.

    Parameters
    ----------
    run : Run
        Under way.
    stage : Stage
        What begins.
    t_ns : int
        Time on the run's axis [ns].
    """
    scene = run.scene
    if scene.implied:
        _forget_implied(run)
    elif scene.watcher is not None:
        end_stage(run, t_ns)
    scene.stages.begin(stage, t_ns)
    scene.attend(kinds.make(run.context(stage, t_ns)))
    title = title_of(stage)
    run.say(t_ns, "stage_start", f"{title} begins", stage=stage.id, stage_kind=stage.kind)


def end_stage(run: Run, t_ns: int) -> None:
    """End the stage under way, if there is one: its watcher judges."""
    scene = run.scene
    watcher, stage = scene.watcher, scene.stages.current
    if watcher is None or stage is None:
        return
    watcher.end(t_ns)
    run.pass_on(watcher)
    for finding in scene.out.results.findings:
        if finding.stage == stage.id and finding.verdict == "not met":
            piece = "" if finding.piece is None else f"piece {finding.piece}, "
            text = f"{piece}{finding.check}: {finding.evidence}"
            run.say(t_ns, "finding", text, stage=stage.id, channel=finding.channel)
    scene.attend(None)
    scene.implied = False
    scene.out.proposals.clear()
    scene.stages.end(t_ns)
    run.say(t_ns, "stage_end", f"{title_of(stage)} ends", stage=stage.id)


def _forget_implied(run: Run) -> None:
    """The only stage is begun by hand after all: what was found before does not count."""
    scene = run.scene
    results = scene.out.results
    for rows in (
        results.stages,
        results.pours,
        results.immersions,
        results.pieces,
        results.settings,
        results.forecasts,
        results.weighings,
        results.findings,
    ):
        rows.clear()
    results.values.clear()
    results.cost = results.own_fat = None
    scene.out.proposals.clear()
    scene.batch.pieces.clear()
    scene.batch.weighed_g.clear()
    scene.batch.values.clear()
    scene.attend(None)
    scene.implied = False


def go_on(run: Run, t_ns: int) -> None:
    """Begin the following stage, or end the last."""
    following = run.scene.stages.following()
    if following is not None:
        begin(run, following, t_ns)
    else:
        end_stage(run, t_ns)


def see_whether_over(run: Run, watcher: Watcher, t_ns: int) -> None:
    """Ask the watcher whether its stage is over, and do as the sheet says about it.

    Parameters
    ----------
    run : Run
        Under way.
    watcher : Watcher
        Of the stage under way.
    t_ns : int
        Time on the run's axis [ns].
    """
    scene = run.scene
    stage = scene.stages.current
    if stage is None or stage.ends == "operator":
        return
    key = _end_key(run, stage)
    why = watcher.finished()
    if stage.ends == "bench":
        _propose_end(run, stage, key, why, t_ns)
    elif why is not None and key not in run.scene.kept_on:
        run.keep_point(t_ns, None, key)
        go_on(run, t_ns)
        text = f"{title_of(stage)} was ended by the sheet's rule: {why}"
        scene.out.proposals[key] = Proposal(
            id=key, text=text, what="next_stage", t_s=seconds(t_ns), taken=True
        )
        run.say(t_ns, "proposal", text, stage=stage.id, proposal=key, taken=True)


def _propose_end(run: Run, stage: Stage, key: str, why: str | None, t_ns: int) -> None:
    proposals = run.scene.out.proposals
    if why is None:
        proposals.pop(key, None)
    elif key in proposals:
        proposals[key].text = why
    elif key not in run.scene.kept_on:
        proposals[key] = Proposal(id=key, text=why, what="next_stage", t_s=seconds(t_ns))
        run.say(t_ns, "proposal", why, stage=stage.id, proposal=key, taken=False)


def finish(run: Run, t_ns: int) -> None:
    """End the run: the stage under way, then the watchers that live as long as the run."""
    scene = run.scene
    if scene.ended_ns is not None:
        return
    end_stage(run, t_ns)
    for watcher in scene.run_long:
        watcher.end(t_ns)
        run.pass_on(watcher)
    scene.alarms.close()
    scene.phase, scene.ended_ns = "ended", t_ns
    run.past = Past()


def _end_key(run: Run, stage: Stage) -> str:
    """Return what names the end of this very occurrence of a stage."""
    return f"end.{stage.id}.{len(run.scene.stages.rows)}"

"""How stages begin, are proposed to end and end, and how the run ends."""

from logger.model.files import sheet_from_text
from tests.watch.recording import S, at, engine_of, operator, sheet_ending_by

ONE_STAGE = '[sheet]\nname = "R"\n[[stage]]\nid = "a"\nkind = "rinse"\n'


def test_next_begins_the_first_stage_then_the_following_then_ends_the_last(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("next", t) for t in (1, 2, 3, 4, 5)], 6 * S)
    assert [(e.kind, e.stage) for e in said if e.kind.startswith("stage")] == [
        ("stage_start", "a"),
        ("stage_end", "a"),
        ("stage_start", "b"),
        ("stage_end", "b"),
        ("stage_start", "c"),
        ("stage_end", "c"),
    ]
    assert said[-1].kind == "not_done"
    assert "no further stage" in said[-1].text
    assert [(r.id, r.start_s, r.end_s) for r in engine.results().stages] == [
        ("a", 1.0, 2.0),
        ("b", 2.0, 3.0),
        ("c", 3.0, 4.0),
    ]


def test_a_stage_can_be_chosen_by_its_id_and_next_goes_on_from_there(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed([operator("stage", 1, stage="b"), operator("next", 2)], 3 * S)
    assert engine.stage_id == "c"


def test_a_stage_the_sheet_does_not_have_is_refused_with_those_it_has(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("stage", 1, stage="frying")], 2 * S)
    assert "its stages are a, b, c" in said[-1].text
    assert engine.stage_id is None


def test_a_sheet_of_one_stage_needs_no_stage_event(recording):
    engine = engine_of(sheet_from_text(ONE_STAGE, "r"))
    engine.feed([at(5.0), at(6.0)], 6 * S)
    results = engine.finish(7 * S)
    assert [(r.id, r.start_s, r.end_s) for r in results.stages] == [("a", 5.0, 7.0)]


def test_a_stage_begun_by_hand_after_all_replaces_the_implied_one(recording):
    engine = engine_of(sheet_from_text(ONE_STAGE, "r"))
    engine.feed([at(5.0), operator("next", 6.0), at(7.0)], 8 * S)
    results = engine.finish(9 * S)
    assert [(r.start_s, r.end_s) for r in results.stages] == [(6.0, 9.0)]
    assert len(results.values["logs"]) == 1


def test_a_started_run_waits_for_its_first_stage(recording):
    engine = engine_of(sheet_from_text(ONE_STAGE, "r"))
    engine.feed([operator("run_start", 0.0), at(1.0)], 2 * S)
    assert engine.stage_id is None
    assert engine.state(2 * S).view.say == "Next: Rinse"


def test_the_end_of_the_run_ends_the_stage_and_nothing_is_taken_after_it(recording):
    engine = engine_of(sheet_ending_by("operator"))
    said = engine.feed([operator("next", 0), at(1), operator("run_end", 2), at(3)], 4 * S)
    said += engine.feed([operator("next", 5)], 5 * S)
    assert [e.kind for e in said] == ["stage_start", "stage_end", "not_done"]
    state = engine.state(9 * S)
    assert (state.phase, state.t_s) == ("ended", 2.0)


def test_outcome_and_notes_count_also_after_the_end(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed(
        [
            operator("next", 0),
            operator("note", 1, "smells right"),
            operator("run_end", 2),
            operator("note", 3, "split overnight"),
            operator("outcome", 4, outcome="rejected", defects=["greasy"]),
        ],
        5 * S,
    )
    results = engine.results()
    assert [(n.t_s, n.text, n.stage) for n in results.notes] == [
        (1.0, "smells right", "a"),
        (3.0, "split overnight", None),
    ]
    assert results.values["outcome"] == "rejected"
    assert results.values["defects"] == ["greasy"]


def test_what_the_bench_sees_is_proposed_and_accepting_goes_on(recording):
    engine = engine_of(sheet_ending_by("bench"))
    said = engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 2 * S)
    [proposal] = engine.state(2 * S).proposals
    assert (proposal.what, proposal.text, proposal.taken) == ("next_stage", "hot enough", False)
    assert [e.text for e in said if e.kind == "proposal"] == ["hot enough"]
    assert engine.stage_id == "a"
    engine.feed([operator("accept", 3, proposal=proposal.id)], 3 * S)
    assert engine.stage_id == "b"


def test_a_declined_proposal_is_not_made_again_in_this_stage(recording):
    engine = engine_of(sheet_ending_by("bench"))
    engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 2 * S)
    [proposal] = engine.state(2 * S).proposals
    engine.feed([operator("decline", 3, proposal=proposal.id)], 30 * S)
    assert engine.state(30 * S).proposals == []
    assert engine.stage_id == "a"


def test_a_stage_of_the_operator_is_never_ended_or_proposed_to_end(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed([operator("next", 0), *(at(0.1 * k, 70.0) for k in range(1, 15))], 60 * S)
    assert engine.stage_id == "a"
    assert engine.state(60 * S).proposals == []


def test_a_stage_ended_by_the_sheet_goes_on_when_that_is_declined(recording):
    """One tap takes it back; what came since belongs to the first stage again."""
    engine = engine_of(sheet_ending_by("sheet"))
    hot = [at(0.1 * k, 70.0) for k in range(1, 15)]
    engine.feed([operator("next", 0), *hot], 2 * S)
    [proposal] = engine.state(2 * S).proposals
    assert proposal.taken
    assert engine.stage_id == "b"
    said = engine.feed([at(2.5, 50.0), operator("decline", 5, proposal=proposal.id)], 20 * S)
    assert "taken_back" in [e.kind for e in said]
    assert engine.stage_id == "a"
    assert [(r.id, r.end_s) for r in engine.results().stages] == [("a", None)]
    [log] = engine.finish(21 * S).values["logs"]
    assert len([k for k, _, _ in log if k == "reading"]) == 15


def test_an_act_says_which_stage_it_ended_and_which_it_began(recording):
    engine = engine_of(sheet_ending_by("operator"))
    engine.feed([operator("next", t) for t in (1, 2, 3, 4, 5)], 6 * S)
    rows = [(act.ends, act.begins, act.stage, act.t_s) for act in engine.results().acts]
    titles = [row.begins for row in engine.results().acts[:3]]
    assert "" not in titles
    assert rows == [
        ("", titles[0], "a", 1.0),
        (titles[0], titles[1], "b", 2.0),
        (titles[1], titles[2], "c", 3.0),
        (titles[2], "", rows[3][2], 4.0),
    ], "what was refused is no act"

"""What a run's events come to: corrections name an act, and the stored events stay as they are."""

from logger.model.event import Event
from logger.model.history import corrected, corrections, piece_defects, started_with

S = 1_000_000_000


def said(kind, t_s, seq, **data):
    return Event(t_ns=round(t_s * S), kind=kind, source="operator", data=data, seq=seq)


def correction(kind, t_s, seq, of, **data):
    return said(kind, t_s, seq, event=of.seq, at_ns=of.t_ns, was_s=of.t_ns / S, **data)


def counted(events):
    return [(e.kind, e.t_ns / S) for e in corrected(events)]


def test_what_was_taken_back_does_not_count_and_the_correction_is_no_act():
    first, second = said("mark", 1, 1), said("mark", 2, 2)
    assert counted([first, second, correction("undo", 3, 3, first)]) == [("mark", 2.0)]


def test_what_was_moved_counts_at_its_new_time_and_can_be_moved_on():
    mark = said("mark", 10, 1)
    events = [mark, correction("move", 20, 2, mark, to_s=5.5)]
    assert counted(events) == [("mark", 5.5)]
    events.append(correction("move", 21, 3, mark, to_s=7.0))
    assert counted(events) == [("mark", 7.0)]
    events.append(correction("undo", 22, 4, mark))
    assert counted(events) == []
    assert mark.t_ns == 10 * S


def test_an_act_without_a_number_is_known_by_its_time():
    mark = said("mark", 1, 7)
    named = said("undo", 3, 9, event=0, at_ns=mark.t_ns, was_s=1.0)
    assert counted([said("mark", 2, 8), mark, named]) == [("mark", 2.0)]


def test_an_undo_that_names_nothing_is_left_to_the_engine():
    assert counted([said("mark", 1, 1), said("undo", 2, 2)]) == [("mark", 1.0), ("undo", 2.0)]
    older = said("undo", 2, 2, event=1, at_ns=S)
    assert counted([said("mark", 1, 1), older]) == [("mark", 1.0), ("undo", 2.0)]


def test_later_acts_keep_beginning_the_stages_they_began():
    first, second = said("next", 1, 1), said("next", 2, 2)
    undo = correction("undo", 3, 3, first, kept={str(second.t_ns): "rinse"})
    (left,) = corrected([first, second, undo])
    assert (left.kind, left.data["stage"]) == ("stage", "rinse")


def test_the_end_does_not_count_once_the_run_goes_on():
    going = Event(t_ns=9 * S, kind="go_on", source="recorder", seq=3)
    events = [said("mark", 1, 1), said("run_end", 2, 2), going, said("run_end", 10, 4)]
    assert counted(events) == [("mark", 1.0), ("go_on", 9.0), ("run_end", 10.0)]


def test_a_correction_keeps_what_was_who_and_when():
    mark = said("mark", 10, 1)
    told = correction("move", 20, 2, mark, to_s=5.5, by="Ada", utc="2026-11-25T09:13:02+00:00")
    (row,) = corrections([mark, told])
    assert (row.event, row.was_s, row.to_s, row.by) == (1, 10.0, 5.5, "Ada")
    assert row.utc.startswith("2026-11-25")


def test_an_older_run_says_nothing_of_its_start():
    assert started_with([said("run_start", 0, 1)]).operator == ""
    told = started_with([said("run_start", 0, 1, operator="Ada", lots={"fat": "F-2"})])
    assert (told.operator, told.size, told.lots) == ("Ada", "", {"fat": "F-2"})


def test_defects_of_pieces_are_those_said_last_and_none_in_an_older_run():
    def came(**data):
        return said("outcome", 0.0, 1, **data)

    pieces = [{"piece": 3, "defects": ["skin burst"]}, {"piece": 4}]
    old = came(outcome="rejected", defects=["skin burst"])
    assert piece_defects([old]) == {}
    assert piece_defects([came(pieces=pieces), old]) == {3: ("skin burst",), 4: ()}
    assert piece_defects([came(pieces=pieces), came(pieces=[])]) == {}
    assert piece_defects([came(pieces="3"), came(pieces=[{"piece": "x"}, 5])]) == {}

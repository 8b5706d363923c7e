"""Every row of the alarm state table (ANSI/ISA-18.2-2016, IEC 62682) and its exits."""

import dataclasses

import pytest

from logger.watch.engine.contract import Condition
from logger.watch.verdict.alarms import LONGEST_SHELVE_S, REALARM_S, Alarm, Alarms

S = 1_000_000_000


def condition(active, cleared=None, **given):
    given = {"on_delay_s": 3.0, "off_delay_s": 2.0, **given}
    cleared = active is False if cleared is None else cleared
    return Condition(
        id="warm.fat.low", text="Fat too cool", active=active, cleared=cleared, **given
    )


class Bench:
    """One alarm, one condition, a clock in whole seconds."""

    def __init__(self, **given):
        self.history = []
        self.alarms = Alarms(self.history)
        self.given = given
        self.t_s = 0
        self.changes = []

    def hold(self, seconds, active, cleared=None):
        """Let the condition stand for a time; return the state after it."""
        for _ in range(seconds):
            self.t_s += 1
            pairs = [(condition(active, cleared, **self.given), "warm")]
            self.changes += self.alarms.update(self.t_s * S, pairs)
        return self.state

    def gone(self, seconds):
        for _ in range(seconds):
            self.t_s += 1
            self.changes += self.alarms.update(self.t_s * S, [])
        return self.state

    def do(self, act, *more):
        done = getattr(self.alarms, act)("warm.fat.low", self.t_s * S, *more)
        if not isinstance(done, str):
            self.changes += done
        return done

    @property
    def row(self):
        return next(iter(self.alarms.view()), None)

    @property
    def state(self):
        return self.row.state if self.row else "normal"


def test_normal_turns_active_only_after_the_on_delay():
    bench = Bench()
    assert bench.hold(3, active=True) == "normal"
    assert bench.hold(1, active=True) == "active unacknowledged"
    assert bench.row.sounds


def test_a_condition_that_comes_and_goes_within_the_on_delay_never_alarms():
    bench = Bench()
    for _ in range(10):
        bench.hold(3, active=True)
        assert bench.hold(1, active=False) == "normal"
    assert bench.changes == []


def test_active_unacknowledged_is_acknowledged():
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("acknowledge")
    assert bench.state == "active acknowledged"
    assert not bench.row.sounds


def test_active_unacknowledged_that_clears_is_returned_unacknowledged():
    bench = Bench()
    bench.hold(4, active=True)
    assert bench.hold(2, active=False) == "active unacknowledged"
    assert bench.hold(1, active=False) == "returned unacknowledged"
    assert not bench.row.sounds


def test_an_alarm_that_asks_for_an_act_is_over_once_it_is_done():
    bench = Bench(done_acknowledges=True)
    assert bench.hold(4, active=True) == "active unacknowledged"
    assert bench.hold(4, active=False) == "normal"
    assert (bench.history[0].acked_s, bench.history[0].to_s) == (None, 7.0)
    assert bench.hold(4, active=True) == "active unacknowledged"


def test_silence_while_nothing_was_recorded_is_no_alarm():
    alarms = Alarms([])
    silent, other = "bath.stale", "skin.bath.high"

    def hold(from_s, to_s, active):
        for t_s in range(from_s, to_s):
            made = [condition(active), condition(active)]
            pairs = [
                (dataclasses.replace(made[0], id=silent), None),
                (dataclasses.replace(made[1], id=other), None),
            ]
            alarms.update(t_s * S, pairs)
        return [a.id for a in alarms.view()]

    assert hold(1, 6, active=True) == [silent, other]
    assert [c.alarm for c in alarms.forgive_silences(6 * S)] == [silent]
    assert hold(7, 9, active=True) == [other]
    assert hold(9, 12, active=True) == [silent, other]


def test_within_the_deadband_an_alarm_stays():
    bench = Bench()
    bench.hold(4, active=True)
    assert bench.hold(60, active=False, cleared=False) == "active unacknowledged"


def test_active_acknowledged_that_clears_for_the_off_delay_is_normal():
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("acknowledge")
    assert bench.hold(2, active=False) == "active acknowledged"
    assert bench.hold(1, active=False) == "normal"


def test_active_acknowledged_calls_again_after_the_realarm_time():
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("acknowledge")
    assert bench.hold(int(REALARM_S) - 1, active=True) == "active acknowledged"
    assert bench.hold(1, active=True) == "active unacknowledged"


def test_returned_unacknowledged_is_acknowledged_to_normal():
    bench = Bench()
    bench.hold(4, active=True)
    bench.hold(3, active=False)
    bench.do("acknowledge")
    assert bench.state == "normal"


def test_returned_unacknowledged_whose_condition_returns_is_active_again():
    bench = Bench()
    bench.hold(4, active=True)
    bench.hold(3, active=False)
    assert bench.hold(4, active=True) == "active unacknowledged"
    assert len(bench.history) == 1
    assert bench.history[0].to_s is None


def test_no_data_leaves_an_alarm_in_its_state():
    bench = Bench()
    bench.hold(4, active=True)
    assert bench.hold(60, active=None) == "active unacknowledged"
    assert Bench().hold(60, active=None) == "normal"


def test_a_latching_alarm_stays_latched_until_it_is_reset():
    bench = Bench(latches=True)
    bench.hold(4, active=True)
    assert "once it is back to normal" in bench.do("reset_latch")
    bench.do("acknowledge")
    assert bench.hold(3, active=False) == "latched"
    assert bench.hold(600, active=False) == "latched"
    assert not bench.row.sounds
    bench.do("reset_latch")
    assert bench.state == "normal"


def test_a_latched_alarm_can_come_again():
    bench = Bench(latches=True)
    bench.hold(4, active=True)
    bench.do("acknowledge")
    bench.hold(3, active=False)
    assert bench.hold(4, active=True) == "active unacknowledged"


@pytest.mark.parametrize(("active", "after"), [(True, "active unacknowledged"), (False, "normal")])
def test_a_shelved_alarm_is_judged_anew_when_its_time_is_up(active, after):
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("shelve", 60.0)
    assert bench.state == "shelved"
    assert bench.row.shelved_until_s == 64.0
    assert bench.hold(59, active=active) == "shelved"
    assert not bench.row.sounds
    assert bench.hold(1, active=active) == after


def test_unshelving_judges_anew_at_once():
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("shelve", 600.0)
    bench.hold(10, active=True)
    bench.do("unshelve")
    assert bench.state == "active unacknowledged"


@pytest.mark.parametrize("for_s", [None, 0.0, -1.0, LONGEST_SHELVE_S + 1])
def test_shelving_is_always_limited_in_time(for_s):
    bench = Bench()
    bench.hold(4, active=True)
    assert "say for how long" in bench.do("shelve", for_s)
    assert bench.state == "active unacknowledged"


def test_a_limit_crossed_on_the_shelf_is_remembered():
    bench = Bench(latches=True)
    bench.hold(1, active=False)
    bench.do("shelve", 60.0)
    bench.hold(30, active=True)
    assert bench.hold(30, active=False) == "latched"
    assert bench.history[0].shelved
    assert bench.history[0].from_s == 5.0


def test_an_alarm_without_its_stage_is_suppressed_and_comes_back_with_it():
    bench = Bench()
    bench.hold(4, active=True)
    assert bench.gone(1) == "normal"
    assert bench.changes[-1].state == "suppressed"
    assert bench.hold(3, active=True) == "normal"
    assert bench.hold(1, active=True) == "active unacknowledged"


def test_a_latch_outlives_its_stage():
    bench = Bench(latches=True)
    bench.hold(4, active=True)
    assert bench.gone(1) == "latched"


def test_out_of_service_ends_only_by_hand():
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("take_out")
    assert bench.hold(600, active=True) == "out of service"
    assert "put it back first" in bench.do("shelve", 60.0)
    bench.do("put_back")
    assert bench.state == "active unacknowledged"


def test_a_low_priority_alarm_never_sounds_and_does_not_call_again():
    bench = Bench(priority="low")
    bench.hold(4, active=True)
    assert not bench.row.sounds
    bench.do("acknowledge")
    assert bench.hold(int(REALARM_S) + 10, active=True) == "active acknowledged"


def test_a_notice_that_clears_goes_without_being_acknowledged():
    bench = Bench(priority="low")
    bench.hold(4, active=True)
    assert bench.hold(3, active=False) == "normal"


@pytest.mark.parametrize("act", ["acknowledge", "unshelve", "reset_latch", "put_back"])
def test_what_cannot_be_done_is_refused_in_words(act):
    bench = Bench()
    assert "there is no alarm" in bench.do(act)
    bench.hold(1, active=False)
    assert isinstance(bench.do(act), str)


def test_the_history_tells_when_it_came_was_seen_and_went():
    bench = Bench()
    bench.hold(4, active=True)
    bench.hold(2, active=True)
    bench.do("acknowledge")
    bench.hold(3, active=False)
    [row] = bench.history
    assert (row.from_s, row.acked_s, row.to_s) == (4.0, 6.0, 9.0)


def test_stale_data_is_listed_before_any_other_alarm():
    alarms = Alarms([])
    stale = Condition(id="fat.stale", text="", active=True, cleared=False, on_delay_s=0.0)
    cool = Condition(id="warm.fat.low", text="", active=True, cleared=False, on_delay_s=0.0)
    alarms.update(S, [(cool, "warm")])
    alarms.update(2 * S, [(cool, "warm"), (stale, None)])
    assert [a.id for a in alarms.view()] == ["fat.stale", "warm.fat.low"]


def test_a_refused_acknowledgement_leaves_no_trace_in_the_history():
    bench = Bench()
    bench.hold(4, active=True)
    bench.do("shelve", 60.0)
    assert "nothing to acknowledge" in bench.do("acknowledge")
    assert bench.history[0].acked_s is None


def test_an_alarm_is_at_rest_once_its_condition_is_surely_gone_and_nothing_is_left_to_say():
    for active, cleared, rests in (
        (False, True, True),
        (False, False, False),
        (None, True, False),
        (True, False, False),
    ):
        alarm = Alarm(condition=condition(active, cleared), stage="warm", history=[])
        assert not alarm.at_rest
        alarm.tick(S)
        assert alarm.at_rest is rests, (active, cleared)
    latched = Alarm(condition=condition(False, True, on_delay_s=0.0), stage="warm", history=[])
    latched.condition = condition(True, on_delay_s=0.0)
    latched.tick(S)
    latched.condition = condition(False, True, off_delay_s=0.0)
    latched.tick(2 * S)
    assert latched.state == "returned unacknowledged"
    assert not latched.at_rest

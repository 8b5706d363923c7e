"""A reduced run of everything hostile at once: no reading is lost, an honest client is answered."""

import pytest

from tests.trust.hostile.attack import run, table


@pytest.mark.slow
def test_a_recording_under_attack_loses_no_reading_and_answers_the_honest(capsys):
    rows, missing, there = run(
        sheets=66, commands=100, half_open=100, idle=64, exports=4, owners=20, held_s=4.0, old=5_000
    )
    print(table(rows, missing, there))
    assert missing == 0
    assert there > 16 * 50
    by_name = {row.what: row for row in rows}
    assert by_name["sheets"].answered == 66
    assert by_name["exports at once"].answered == 4
    assert by_name["owners in a crowd of connections"].answered == 20
    assert by_name["commands"].answered >= 95  # a line that is too long may be cut while it is sent
    assert rows[-1].worst["unanswered"] == 0

"""Plain rows that are parsed at once give what they give line by line, refusals included."""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.store.exchange import importing, plainrows, table
from logger.store.exchange.importing import read_csv

HEAD = "time_s,fat [degC],core [degF],bath_scale [kg]\n"


def outcome(path, *, at_once, monkeypatch, first=1, piece=64):
    """Return readings, units and report of a large file, or what refuses it; and what was taken."""
    taken = []
    with monkeypatch.context() as patch:
        patch.setattr(importing, "LARGE_BYTES", 0)
        patch.setattr(plainrows, "FIRST_BYTES", first)
        patch.setattr(plainrows, "PIECE_BYTES", piece)
        offer = plainrows.LineSource.offer

        def counted(source, columns, look):
            def told(t_ns, values):
                done = look(t_ns, values)
                taken.append(len(t_ns) if done else 0)
                return done

            if at_once:
                offer(source, columns, told)

        patch.setattr(plainrows.LineSource, "offer", counted)
        try:
            run = read_csv(path)
            rows = []
            run.hand_over(rows.extend)
        except InputError as said:
            return str(said), sum(taken)
    rows.sort(key=lambda r: (r.channel, r.t_ns))
    shown = [(r.channel, r.t_ns, repr(r.value), r.flags, r.cold_junction_c) for r in rows]
    return (shown, run.units, run.report, run.duration_ns), sum(taken)


def same(path, monkeypatch, **sizes):
    slow, none = outcome(path, at_once=False, monkeypatch=monkeypatch)
    fast, taken = outcome(path, at_once=True, monkeypatch=monkeypatch, **sizes)
    assert fast == slow
    assert none == 0
    return taken


def rows(count, step="0.1"):
    return [
        f"{n * float(step):.3f},{40 + n % 9}.{n % 10},{n / 7:.6f},5.{n:04d}" for n in range(count)
    ]


def test_plain_rows_are_taken_at_once(tmp_path, monkeypatch):
    path = tmp_path / "x.csv"
    path.write_text(HEAD + "\n".join(rows(400)) + "\n")
    assert same(path, monkeypatch, piece=500) > 2 * 380
    path.write_text(HEAD + "\r\n".join(rows(400)), newline="")
    assert same(path, monkeypatch, piece=500) > 2 * 370


ODD = [
    "x", "nan", "inf", "-inf", "1e5", "1E-3", "1e400", "1e-400", "1e0005", "+5", "-5", "-0", "-0.0",
    ".5", "5.", ".", "-", "", " ", " 7", "7 ", "\t7", "1_0", "0x10", "1,5", '"6"', '"6', '6"', "=1",
    "1e12", "1.1e12", "9" * 61, "9" * 64, "0." + "3" * 70, "0." + "3" * 59, "٤", "\x00", "5;6",
    "e5", "true", "1.5.2", "--1", "007", "1e", "5\r", "\r5", "#1",
]  # fmt: skip


@pytest.mark.parametrize("place", [0, 1, 3])
@pytest.mark.parametrize("odd", ODD, ids=range(len(ODD)))
@pytest.mark.parametrize("end", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_an_odd_cell_is_read_or_refused_as_it_is_line_by_line(
    tmp_path, monkeypatch, place, odd, end
):
    path = tmp_path / "x.csv"
    given_ = rows(40)
    cells = given_[25].split(",")
    cells[place] = odd
    given_[25] = ",".join(cells)
    path.write_text(HEAD + end.join(given_) + end, newline="")
    same(path, monkeypatch, piece=200)


ROWS = [
    "", " ", ",,,", "1,2", "99,1,2,3,", "99,1,2,3,4", "2.450,1,2,3", "2.4500001,1,2,3", "2.4,1,2,3",
    "2.45000000049,1,2,3", "1e9,1,2,3", "1e10,1,2,3", "99999999999,1,2,3", "-5,1,2,3", "2.46,,,",
    '2.46,"1\n",2,3', "2.46,1,2,3\r2.47,1,2,3", "2.46,1,2,3\n\n2.47,1,2,3", "2.46,1,2,3\n,,,",
    "700000,1,2,3", "\ufeff2.46,1,2,3", "2.46," + "1" * 2_100 + ",2,3", "2.46" + "," * 300,
]  # fmt: skip


@pytest.mark.parametrize("odd", ROWS, ids=range(len(ROWS)))
@pytest.mark.parametrize("piece", [90, 4_000])
def test_an_odd_row_is_read_or_refused_as_it_is_line_by_line(tmp_path, monkeypatch, odd, piece):
    path = tmp_path / "x.csv"
    given_ = rows(60)
    path.write_text(HEAD + "\n".join([*given_[:25], odd, *given_[25:]]), "utf-8", newline="")
    same(path, monkeypatch, piece=piece)


@pytest.mark.parametrize("bad", [b"\xff", b"\xc3", b"\xed\xa0\x80"])
@pytest.mark.parametrize("row", [0, 30, 399])
def test_what_is_not_utf_8_is_refused_at_its_row(tmp_path, monkeypatch, bad, row):
    path = tmp_path / "x.csv"
    lines = [line.encode() for line in rows(400)]
    lines[row] += bad
    path.write_bytes(HEAD.encode() + b"\n".join(lines) + b"\n")
    same(path, monkeypatch, piece=300)
    with pytest.raises(InputError, match=f"row {row + 2}: text that is not UTF-8"):
        read_csv(path)


def test_rows_of_one_time_and_too_many_cells_are_refused_alike(tmp_path, monkeypatch):
    monkeypatch.setattr(table, "MAX_AT_ONCE", 5)
    path = tmp_path / "x.csv"
    path.write_text(HEAD + "\n".join(rows(40) + ["3.9,1,1,1"] * 9 + ["5,1,1,1"]) + "\n")
    same(path, monkeypatch, piece=200)
    path.write_text(HEAD + "\n".join(rows(200)) + "\n")
    for most in (400, 403, 404, 407, 408, 500):
        monkeypatch.setattr(table, "MAX_CELLS", most)
        same(path, monkeypatch, piece=200)


CELL = st.sampled_from(ODD) | st.decimals(-50, 200, places=3).map(str) | st.sampled_from(["", "4"])


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 6), CELL, CELL, CELL), max_size=30),
    st.integers(20, 300), st.sampled_from(["\n", "\r\n"]), st.integers(0, 2),
)  # fmt: skip
@example([(1, "1", "2", "3")] * 30, 60, "\n", 0)
def test_any_rows_give_the_same(tmp_path_factory, lines, piece, end, odd):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    t_ms, text = 0, []
    for step_ms, *cells in lines:
        t_ms += step_ms
        plain = (
            cells
            if odd == 2
            else ["4.5" if c in ODD and n > odd else c for n, c in enumerate(cells)]
        )
        text.append(",".join([f"{t_ms / 1000:.3f}", *plain]))
    path.write_text(HEAD + end.join(text) + end, "utf-8", newline="")
    with pytest.MonkeyPatch.context() as patch:
        same(path, patch, piece=piece)

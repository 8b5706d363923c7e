"""The page that compares takes its runs from its address, and shows another fat or lot."""

from dashboard.learn.comparing import draw_tables
from dashboard.learn.together import address, asked_for
from dashboard.measures import Measures
from logger.review.compare.compare import Comparison, Substitution


def test_the_address_asks_for_the_runs_it_was_made_of():
    runs = ["20250901-0840-02bc", "20250902-0857-02bd"]
    path, _, search = address(runs).partition("?")
    assert path == "/compare"
    assert asked_for("?" + search) == runs


def test_an_address_without_runs_asks_for_none():
    assert asked_for(None) == asked_for("") == asked_for("?other=1") == []


def test_another_fat_is_a_table_of_its_own():
    swap = Substitution(group="fat", before="cocoa_butter", after="coconut_oil")
    found = Comparison(
        runs=("a", "b"), outcomes=(None, None), defects=((), ()), changes=((),), swaps=((swap,),),
        groups=(), rows=(), effects=(), says="",
    )  # fmt: skip
    drawn = draw_tables(found, Measures())[0].to_plotly_json()
    assert "coconut_oil" in str(drawn)
    assert "Another fat, salt or lot" in str(drawn)

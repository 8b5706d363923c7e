"""The page that compares takes its runs from its address, and shows another fat or lot."""

from dashboard.learn.comparing import draw_tables
from dashboard.learn.differ import effects_headline
from dashboard.learn.together import address, asked_for
from dashboard.measures import Measures
from logger.review.compare.compare import Comparison, EffectRow, Substitution
from logger.review.compare.effects import Effect


def test_the_address_asks_for_the_runs_it_was_made_of():
    runs = ["20250901-0840-02bc", "20250902-0857-02bd"]
    path, _, search = address(runs).partition("?")
    assert path == "/compare"
    assert asked_for("?" + search) == runs


def test_an_address_without_runs_asks_for_none():
    assert asked_for(None) == asked_for("") == asked_for("?other=1") == []


def test_many_runs_are_headed_by_the_number_that_differs_most_clearly_or_none():
    def row(label, says, p):
        effect = Effect(
            count_a=5, count_b=5, shift=1.0, low=0.5, high=1.5, p=p, smallest_p=0.01, says=says
        )
        return EffectRow(name=label, label=label, unit="g", effect=effect, says="")

    between = "between rejected and accepted runs"
    clear = [row("coat, mean", "no difference shown", 0.4), row("bath temperature", "higher", 0.01)]
    assert effects_headline(clear, between) == f"Bath temperature differs most clearly {between}."
    chance = f"No number differs {between} by more than chance."
    assert effects_headline(clear[:1], between) == chance
    assert effects_headline([clear[1], *clear[:1] * 19], between) == chance  # one of twenty
    assert effects_headline([row("rinse", "too few runs to tell", None)], between) == ""


def test_another_fat_is_a_table_of_its_own():
    swap = Substitution(group="fat", before="cocoa_butter", after="coconut_oil")
    found = Comparison(
        runs=("a", "b"), outcomes=(None, None), defects=((), ()), changes=((),), swaps=((swap,),),
        groups=(), rows=(), effects=(), says="",
    )  # fmt: skip
    drawn = draw_tables(found, Measures())[0].to_plotly_json()
    assert "coconut_oil" in str(drawn)
    assert "Another fat, salt or lot" in str(drawn)

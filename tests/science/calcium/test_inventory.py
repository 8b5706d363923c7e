import pytest

from logger.model.errors import OutOfRangeError
from logger.science.calcium import inventory
from logger.science.calcium import salts as calcium
from logger.science.gel import alginate

CAPACITY = alginate.capacity_mol_m3(0.015, 1008.0)


def bath_after(pieces: int, **options) -> inventory.Bath:
    bath = inventory.fresh_bath(1500.0, 0.01, calcium.CACL2_G_MOL)
    for _ in range(pieces):
        bath = inventory.after_piece(
            bath, coat_volume_ml=5.0, capacity_mol_m3=CAPACITY, drag_g=1.5, **options
        )
    return bath


def test_a_fresh_bath_holds_what_was_weighed_in():
    """1500 g * 0.01 / 110.984 = 0.1352 mol, by hand."""
    assert bath_after(0).calcium_mol == pytest.approx(0.1352, rel=1e-3)


def test_twelve_rolls_use_six_percent_and_binding_is_the_small_term():
    """By hand: 12 * (0.191 + 0.36 + 0.135) mmol of 135.2 mmol; bound alone 1.7 %."""
    bath = bath_after(12)
    used = 1 - bath.calcium_left
    assert used == pytest.approx(0.061, abs=0.002)
    assert bath.bound_mol / bath.start_calcium_mol == pytest.approx(0.017, abs=0.0005)
    assert bath.bound_mol < bath.taken_up_mol


def test_calcium_is_conserved():
    bath = inventory.after_top_up(bath_after(5), 200.0, 0.01, calcium.CACL2_G_MOL)
    bath = inventory.after_ladle_out(bath, 150.0)
    left = bath.start_calcium_mol + bath.added_mol - bath.bound_mol - bath.taken_up_mol
    assert bath.calcium_mol == pytest.approx(left - bath.dragged_mol, rel=1e-12)


def test_ladling_out_leaves_the_strength():
    assert inventory.after_ladle_out(bath_after(3), 400.0).strength == pytest.approx(
        bath_after(3).strength
    )


def test_a_bath_below_80_percent_is_to_be_refreshed_with_the_largest_loss_first():
    fresh = inventory.refresh_advice(bath_after(2))
    assert not fresh.refresh
    thin = inventory.after_top_up(bath_after(0), 600.0, 0.0, calcium.CACL2_G_MOL)
    advice = inventory.refresh_advice(thin)
    assert advice.refresh
    assert "bath strength 71 %" in advice.reason
    assert advice.reason.endswith("; 29 % thinned by water")


def test_a_bath_cannot_give_more_than_it_has():
    small = inventory.fresh_bath(20.0, 0.001, calcium.CACL2_G_MOL)
    with pytest.raises(OutOfRangeError, match="check the masses"):
        inventory.after_piece(small, coat_volume_ml=50.0, capacity_mol_m3=CAPACITY)


def test_the_losses_of_a_bath_are_shares_of_what_it_held_largest_first():
    """A third ladled out of a bath that gave to 12 rolls; what is under a percent isn't told."""
    bath = inventory.after_ladle_out(bath_after(12), 500.0)
    start = bath.start_calcium_mol
    dragged = round(100.0 * bath.dragged_mol / start)
    soaked, bound = (round(100.0 * x / start) for x in (bath.taken_up_mol, bath.bound_mol))
    assert 30 <= dragged <= 34
    reason = inventory.refresh_advice(bath).reason
    assert reason.endswith(
        f"; {dragged} % dragged or ladled out, {soaked} % soaked into the skins, "
        f"{bound} % bound by the skins"
    )
    with pytest.raises(OutOfRangeError, match="ladled out"):
        inventory.after_ladle_out(bath, bath.mass_g)
    assert inventory.after_ladle_out(bath, 0.0) == bath

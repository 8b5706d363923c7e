"""A column in a unit that its role does not have is refused at its name."""

import pytest

from logger.model.errors import InputError
from logger.recorder.replay.intake import take_in
from logger.store.exchange.importing import read_csv
from logger.store.folder.datafolder import DataFolder

SHEET = '[sheet]\nname = "Smoked beet and barley roll"\n'


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("bath_scale [degC]", r"column bath_scale \[degC\]: the role bath_scale is for a mass"),
        ("fat [g]", r"column fat \[g\]: the role fat is for a temperature"),
        ("other [kg]", r"column other \[g\]: the role other is for a temperature"),
        ("bowl_scale [mV]", r"column bowl_scale \[uV\]: the role bowl_scale is for a mass"),
    ],
)
def test_a_role_with_a_unit_of_another_dimension_is_refused(tmp_path, head, said):
    folder = DataFolder(tmp_path)
    imported = read_csv(f"time_s,{head}\n0,45\n1,44\n")
    with pytest.raises(InputError, match=said):
        take_in(
            folder, imported, sheet_text=SHEET, sheet_name="x", bench_text=None, fats={}, slabs={}
        )
    assert folder.run_ids() == []

"""What every formula does with lists, labels, and what is no number."""

import inspect

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.errors import InputError

ODD = [
    None,
    True,
    np.array([True]),
    pd.Timestamp("2024-05-01"),
    ["b"],
    np.timedelta64(3, "h"),
    pd.date_range("2024-05-01", periods=2).to_numpy(),
    xr.DataArray(pd.date_range("2024-05-01", periods=2), dims="time"),
]


def only_fault(formula, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        formula(*args, **kwargs)
    (fault,) = caught.value.faults
    return fault


def check_not_a_number(formula, good, odd):
    """Refuse it by name, wherever it stands."""
    for place, name in enumerate(list(inspect.signature(formula).parameters)[: len(good)]):
        fault = only_fault(formula, *good[:place], odd, *good[place + 1 :])
        assert fault.what == name
        assert "not a number" in fault.problem


def check_lists_and_labels(formula, good):
    """Take a list as an array, and refuse shapes and labels that do not fit."""
    given = [[good[0]] * 2, *good[1:]]
    np.testing.assert_array_equal(formula(*given), np.full(2, formula(*good)))
    given[1] = np.full(3, good[1])
    assert only_fault(formula, *given).problem == "do not fit"
    given[0], given[1] = (
        xr.DataArray([value] * 2, dims="field", coords={"field": labels})
        for value, labels in zip(good, (["a", "b"], ["b", "c"]), strict=False)
    )
    assert only_fault(formula, *given).problem == "have different labels"

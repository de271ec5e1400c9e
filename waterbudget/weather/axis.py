"""The days of a source: consecutive, or what must be said about them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import time_axis
from waterbudget.errors import Faults
from waterbudget.weather.dates import with_question
from waterbudget.weather.flags import is_flag
from waterbudget.weather.options import Options


def in_days(raw: xr.Dataset, options: Options, faults: Faults) -> xr.Dataset:
    """Check that the time is one of days, or bring it to one by adding the days that are missing.

    Steps shorter than a day are checked where days are made of them.
    """
    if options.sub_daily is not None:
        return raw
    index = raw.indexes["time"]
    own = Faults()
    time_axis(index, own)
    found = tuple(own)
    absent = [fault for fault in found if fault.problem == "misses days"]
    if options.missing_days == "nan" and len(found) == len(absent) == 1:
        whole = pd.date_range(index[0], index[-1], freq="D", name="time")
        flags = {name: np.int8(0) for name in map(str, raw.data_vars) if is_flag(name)}
        return raw.reindex(time=whole, fill_value={**dict.fromkeys(raw.data_vars, np.nan), **flags})
    faults.extend(with_question(found, index))
    return raw

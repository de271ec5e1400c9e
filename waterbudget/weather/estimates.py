"""The values of a weather record, or of a season, that were not given: a table of them."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pandas as pd
import xarray as xr

from waterbudget.errors import collect
from waterbudget.weather.findings import Doubt, Row, rows
from waterbudget.weather.flags import FLAGS, GIVEN

_TYPES = {
    "variable": "object",
    "station": "object",
    "first_date": "datetime64[ns]",
    "last_date": "datetime64[ns]",
    "days": "int64",
    "origin": "object",
}
_SUFFIX = "_flag"


def estimates(data: xr.Dataset) -> pd.DataFrame:
    """List the values that were not given, and where they come from.

    Parameters
    ----------
    data : Dataset
        Weather of `read_weather`, `fill_weather` or `outlook`, or a season of `simulate`.

    Returns
    -------
    DataFrame
        A row for each run of consecutive days of one origin: ``variable`` (of a season: rain, or what
        lies behind reference evapotranspiration), ``station`` (its label; other labelled dimensions are
        named; empty where there is none), ``first_date``, ``last_date``, ``days`` and ``origin`` in words.
        Without an estimated value it has no rows.

    Raises
    ------
    InputError
        When `data` is no Dataset on time.
    """
    with collect() as faults:
        if not isinstance(data, xr.Dataset) or "time" not in data.indexes:
            mend = "give weather, or a season of simulate"
            faults.add("data", "is no Dataset on time", value=type(data).__name__, mend=mend)
    found = pd.DataFrame(list(_rows(data)), columns=[*list(_TYPES)[:-1], "value", "origin"])
    return found.drop(columns="value").astype(_TYPES)


def _rows(data: xr.Dataset) -> Iterator[tuple[object, ...]]:
    """Give the rows of every variable, station by station and by date."""
    for name in map(str, data.data_vars):
        if not name.endswith(_SUFFIX) or "flag_values" not in data[name].attrs:
            continue
        codes = data[name].broadcast_like(data["time"]) if "time" not in data[name].dims else data[name]
        found: list[Row] = []
        for flag in FLAGS:
            if flag.code != GIVEN:
                doubt = Doubt(name, codes == flag.code, flag.text, shown=codes)
                found += rows(data, doubt, most=sys.maxsize)
        for _, *rest in sorted(found, key=lambda row: (str(row[1]), str(row[2]))):
            yield name.removesuffix(_SUFFIX), *rest

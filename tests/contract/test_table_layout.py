"""Text tables as they are found: delimiters, decimal signs, comments, lines of units, codes, dates."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget import TableLayout, read_weather
from waterbudget.errors import Fault, InputError
from waterbudget.weather.calendar_faults import exchange

SITE = {"latitude": 46.2, "elevation": 120.0}
PLAIN = "time,tmin,tmax,rain\n2024-07-01,10.5,20,0\n2024-07-02,11,21.5,3.2\n2024-07-03,9,19,\n"


def write(folder: Path, text: str) -> Path:
    """Write a file and give its path."""
    path = folder / "weather.csv"
    path.write_text(text, encoding="utf-8")
    return path


def only(source: object, **options: object) -> Fault:
    """Give the one fault that a source has."""
    with pytest.raises(InputError) as caught:
        read_weather(source, **{**SITE, **options})
    (fault,) = caught.value.faults
    return fault


@pytest.fixture
def plain(tmp_path: Path) -> xr.Dataset:
    """What every way to write the table means."""
    return read_weather(write(tmp_path, PLAIN), **SITE)


# ------------------------------------------------------------------------------------ delimiters
@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_a_delimiter_that_cuts_every_line_alike_needs_no_word(
    tmp_path: Path, plain: xr.Dataset, delimiter: str
) -> None:
    path = write(tmp_path, PLAIN.replace(",", delimiter))
    xr.testing.assert_identical(read_weather(path, **SITE), plain)
    said = TableLayout(delimiter=delimiter)
    xr.testing.assert_identical(read_weather(path, layout=said, **SITE), plain)


def test_columns_padded_with_blanks_and_numbers_with_noughts(tmp_path: Path, plain: xr.Dataset) -> None:
    text = (
        "time          tmin   tmax   rain\n"
        "2024-07-01   010.5   20.0    0.0\n"
        "2024-07-02   011.0   21.5   03.2\n"
        "2024-07-03     9.0   19.0    nan\n"
    )
    xr.testing.assert_identical(read_weather(write(tmp_path, text), **SITE), plain)


def test_decimal_commas(tmp_path: Path, plain: xr.Dataset) -> None:
    path = write(tmp_path, PLAIN.replace(",", ";").replace(".", ","))
    with pytest.raises(InputError) as caught:
        read_weather(path, **SITE)
    assert [fault.what for fault in caught.value.faults] == ["tmin", "tmax", "rain"]
    assert caught.value.faults[0].value == "'10,5'"
    assert 'layout=wb.TableLayout(decimal=",")' in caught.value.faults[0].mend
    commas = TableLayout(decimal=",")
    xr.testing.assert_identical(read_weather(path, layout=commas, **SITE), plain)
    frame = pd.read_csv(path, sep=";", dtype=str)
    found = read_weather(frame, layout=commas, **SITE)
    xr.testing.assert_identical(found.drop_attrs(deep=False), plain.drop_attrs(deep=False))


def test_thousands_are_not_taken_apart(tmp_path: Path) -> None:
    path = write(tmp_path, "time;tmin\n2024-07-01;1.010,5\n2024-07-02;9,5\n")
    fault = only(path, layout=TableLayout(decimal=","))
    assert (fault.value, fault.count, fault.allowed[:28]) == ("'1.010,5'", 1, "numbers with a decimal comma")


def test_two_signs_that_both_could_be_the_delimiter_are_a_question(tmp_path: Path) -> None:
    fault = only(write(tmp_path, "time;a,tmin\n2024-07-01;1,2\n2024-07-02;1,3\n"))
    assert "does not show what stands between its cells" in fault.problem
    assert "a comma or a semicolon" in fault.value
    assert "delimiter=" in fault.mend
    ragged = only(write(tmp_path, "time;tmin;tmax\n2024-07-01;1;2\n2024-07-02;1;3;4\n"))
    assert (ragged.where, ragged.value, ragged.allowed) == ("line 3", "4 cells", "3 cells")
    assert "cut at a semicolon" in ragged.problem
    title = only(write(tmp_path, "Farm record, north\n" + PLAIN))
    assert "line 1, 'Farm record, north'" in title.problem
    assert title.mend.startswith("if line 1 is no header: layout=wb.TableLayout(header_line=...)")


# ------------------------------------------------------------------------- lines that are no data
def test_comments_titles_units_and_other_lines(tmp_path: Path, plain: xr.Dataset) -> None:
    text = (
        "Station of an invented valley\n"
        "# sensors cleaned in May\n"
        "time,tmin,tmax,rain\n"
        ",Deg F,°F,inch\n"
        "stamp,lowest,highest,sum\n"
        "2024-07-01,50.9,68,0\n"
        "# changed the gauge\n"
        "2024-07-02,51.8,70.7,0.125984251968504\n"
        "\n"
        "2024-07-03,48.2,66.2,\n"
    )
    path = write(tmp_path, text)
    layout = TableLayout(header_line=3, units_line=4, skip_lines=[5])
    assert layout.skip_lines == (5,)
    found = read_weather(path, layout=layout, **SITE)
    for name in ("tmin", "tmax", "rain"):
        np.testing.assert_allclose(found[name], plain[name], rtol=1e-12)
    # What the user says goes before what the file says.
    other = read_weather(path, layout=layout, units={"rain": "cm"}, **SITE)
    np.testing.assert_allclose(other["rain"][1], 1.25984251968504, rtol=1e-12)


def test_a_second_header_is_a_question(tmp_path: Path) -> None:
    path = write(tmp_path, "time,tmin,tmax\n-,degC,degC\n2024-07-01,10,20\n2024-07-02,11,21\n")
    with pytest.raises(InputError) as caught:
        read_weather(path, **SITE)
    fault = caught.value.faults[0]
    assert fault.what == "line 2"
    assert "second header?" in fault.problem
    assert "units_line=2" in fault.mend
    assert "skip_lines=(2,)" in fault.mend
    skipped = read_weather(path, layout=TableLayout(skip_lines=(2,)), **SITE)
    np.testing.assert_array_equal(skipped["tmin"], [10, 11])


def test_a_unit_of_a_line_that_is_not_known_is_named(tmp_path: Path) -> None:
    path = write(tmp_path, "time,tmin,tmax\n,degX,°C\n2024-07-01,10,20\n")
    fault = only(path, layout=TableLayout(units_line=2))
    assert (fault.what, fault.value) == ("units, 'tmin'", "'degX'")
    assert "is not known" in fault.problem


def test_lines_that_are_not_there(tmp_path: Path) -> None:
    fault = only(write(tmp_path, PLAIN), layout=TableLayout(header_line=9))
    assert "has no line 9, the header_line" in fault.problem
    assert fault.value == "4 lines"
    assert "no rows" in only(write(tmp_path, PLAIN), layout=TableLayout(header_line=4)).problem
    assert "is empty" in only(write(tmp_path, "# all\n# comments\n")).problem


# ----------------------------------------------------------------------------------------- codes
def test_codes_for_missing_values(tmp_path: Path) -> None:
    text = "time,tmin,tmax,rhmax,rain\n2024-07-01,-999,20,99.9,M\n2024-07-02,11,---,80,-999.0\n"
    path = write(tmp_path, text)
    weather = read_weather(path, missing_codes=(-999, "M", "---"), **SITE)
    np.testing.assert_array_equal(weather["tmin"], [np.nan, 11])
    np.testing.assert_array_equal(weather["tmax"], [20, np.nan])
    np.testing.assert_array_equal(weather["rain"], [np.nan, np.nan])
    np.testing.assert_array_equal(weather["rhmax"], [99.9, 80])
    by_name = {"tmin": [-999], "tmax": ["---"], "rain": ["M", -999], "rhmax": [99.9]}
    own = read_weather(path, missing_codes=by_name, **SITE)
    np.testing.assert_array_equal(own["rhmax"], [np.nan, 80])
    np.testing.assert_array_equal(own["tmin"], weather["tmin"])
    # A code is what is written, whatever its unit.
    frame = pd.DataFrame({"time": ["2024-07-01", "2024-07-02"], "tmin": [-99.0, 50.0]})
    fahrenheit = read_weather(frame, units={"tmin": "degF"}, missing_codes=[-99], **SITE)
    np.testing.assert_array_equal(fahrenheit["tmin"], [np.nan, 10.0])


@pytest.mark.parametrize("trace", ["T", -1])
def test_a_trace_of_rain_is_what_the_user_says(tmp_path: Path, trace: object) -> None:
    path = write(tmp_path, f"time,tmin,tmax,rain\n2024-07-01,10,20,{trace}\n2024-07-02,11,21,0.5\n")
    fault = only(path)
    assert fault.what == "rain"
    assert trace == -1 or "if it means a trace: trace={'T': ...}" in fault.mend
    weather = read_weather(path, trace={trace: 0.1}, units={"rain": "in"}, **SITE)
    np.testing.assert_allclose(weather["rain"], [0.1, 12.7], rtol=1e-12)  # the depth is in mm
    assert weather["rain_flag"].values.tolist() == [10, 0]
    assert weather["rain"].attrs["ancillary_variables"] == "rain_flag"
    # It is a code of rain alone.
    cold = write(tmp_path, "time,tmin,tmax,rain\n2024-07-01,-1,20,-1\n")
    assert read_weather(cold, trace={-1: 0.0}, **SITE)["tmin"].values.tolist() == [-1.0]


# ----------------------------------------------------------------------------------------- dates
@pytest.mark.parametrize(
    ("cells", "date_format"),
    [
        (["13.07.2024", "14.07.2024", "15.07.2024"], "%d.%m.%Y"),
        (["07/13/2024", "07/14/2024", "07/15/2024"], "%m/%d/%Y"),
        (["13/7/24", "14/7/24", "15/7/24"], "%d/%m/%y"),
        (["13.07.2024 00", "14.07.2024 00", "15.07.2024 00"], "%d.%m.%Y %H"),
        (["13.07.2024 0000", "14.07.2024 0000", "15.07.2024 0000"], "%d.%m.%Y %H%M"),
        (["13.07.2024 00:00:00", "14.07.2024 00:00:00", "15.07.2024 00:00:00"], "%d.%m.%Y %H:%M:%S"),
    ],
)
def test_an_order_that_the_dates_themselves_show_is_proposed(cells: list[str], date_format: str) -> None:
    frame = pd.DataFrame({"time": cells, "tmin": 9.0, "tmax": 20.0})
    fault = only(frame)
    assert f'date_format="{date_format}"' in fault.mend
    weather = read_weather(frame, layout=TableLayout(date_format=date_format), **SITE)
    assert weather.indexes["time"].equals(pd.date_range("2024-07-13", periods=3, name="time"))


def test_an_order_that_nothing_shows_is_a_question() -> None:
    frame = pd.DataFrame({"time": ["01.07.2024", "02.07.2024"], "tmin": 9.0, "tmax": 20.0})
    fault = only(frame)
    assert "which is first?" in fault.problem
    assert '"%d.%m.%Y" or "%m.%d.%Y"' in fault.mend


@pytest.mark.parametrize(
    "cells",
    [
        ["2024-07-01", "02/07/2024", "2024-07-03"],
        ["13/07/2024", "07/14/2024", "15/07/2024"],
    ],
)
def test_mixed_dates_are_a_question(cells: list[str]) -> None:
    fault = only(pd.DataFrame({"time": cells, "tmin": 9.0, "tmax": 20.0}))
    assert "which is meant?" in fault.problem
    assert fault.where.startswith("row ")


def test_dates_that_are_not_in_the_format_stated() -> None:
    frame = pd.DataFrame({"time": ["13.07.2024", "2024-07-14"], "tmin": 9.0, "tmax": 20.0})
    fault = only(frame, layout=TableLayout(date_format="%d.%m.%Y"))
    assert (fault.where, fault.value, fault.count) == ("row 2", "'2024-07-14'", 1)
    assert fault.allowed == '"%d.%m.%Y"'


def test_day_and_month_exchanged_as_a_spreadsheet_does() -> None:
    days = pd.date_range("2024-01-01", "2024-12-31")
    written = exchange(days)
    frame = pd.DataFrame({"time": written, "tmin": 9.0 + np.arange(366) % 5, "tmax": 20.0})
    fault = only(frame)
    assert "if day and month were exchanged" in fault.problem
    assert "exchanged_dates=True" in fault.mend
    mended = read_weather(frame, layout=TableLayout(exchanged_dates=True), **SITE)
    assert mended.indexes["time"].equals(days.rename("time"))
    np.testing.assert_array_equal(mended["tmin"], 9.0 + np.arange(366) % 5)
    # Days that are merely out of order are not said to be exchanged.
    shuffled = frame.assign(time=days[::-1])
    assert "exchanged" not in only(shuffled).problem


def test_exchange_is_its_own_inverse() -> None:
    hours = pd.date_range("2023-12-30", "2024-03-02", freq="7h")
    assert exchange(exchange(hours)).equals(hours)
    assert exchange(pd.DatetimeIndex(["2024-02-13", "2024-02-03 05:00"])).equals(
        pd.DatetimeIndex(["2024-02-13", "2024-03-02 05:00"])
    )
    zoned = hours.tz_localize("UTC")
    assert exchange(exchange(zoned)).equals(zoned)


# ---------------------------------------------------------------------------------- missing days
def test_days_that_have_no_row_are_added_when_asked_for(tmp_path: Path) -> None:
    text = "time,station,tmin,tmax\n2024-07-01,a,1,2\n2024-07-04,a,4,5\n2024-07-03,b,3,4\n"
    path = write(tmp_path, text)
    with pytest.raises(InputError, match="misses days"):
        read_weather(path, **SITE)
    weather = read_weather(path, missing_days="nan", **SITE)
    assert weather.indexes["time"].equals(pd.date_range("2024-07-01", "2024-07-04", name="time"))
    np.testing.assert_array_equal(weather["tmin"].sel(station="a"), [1, np.nan, np.nan, 4])
    np.testing.assert_array_equal(weather["tmin"].sel(station="b"), [np.nan, np.nan, 3, np.nan])
    twice = write(tmp_path, text + "2024-07-03,b,3,4\n")
    assert "more than once" in only(twice, missing_days="nan").problem
    one = write(tmp_path, "time,tmin,tmax,rain\n2024-07-01,1,2,T\n2024-07-03,3,4,0\n")
    gap = read_weather(one, missing_days="nan", trace={"T": 0.0}, **SITE)
    np.testing.assert_array_equal(gap["rain"], [0, np.nan, 0])
    assert gap["rain_flag"].values.tolist() == [10, 0, 0]


# --------------------------------------------------------------------------------------- options
@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"delimiter": "::"}, "delimiter"),
        ({"decimal": "'"}, "decimal"),
        ({"encoding": "klingon"}, "encoding"),
        ({"encoding": None}, "encoding"),
        ({"encoding": "hex"}, "encoding"),
        ({"date_format": "%d.%m."}, "date_format"),
        ({"comment": ""}, "comment"),
        ({"header_line": 0}, "header_line"),
        ({"units_line": "2"}, "units_line"),
        ({"skip_lines": (3, -1)}, "skip_lines"),
        ({"header_line": 2, "units_line": 2}, "units_line"),
        ({"date_format": "day.month"}, "date_format"),
        ({"exchanged_dates": 1}, "exchanged_dates"),
    ],
)
def test_options_of_a_layout_that_are_none(options: dict[str, object], what: str) -> None:
    with pytest.raises(InputError) as caught:
        TableLayout(**options)
    assert [fault.what for fault in caught.value.faults] == [what]


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"layout": ";"}, "layout"),
        ({"sub_daily": "hourly"}, "sub_daily"),
        ({"missing_days": "fill"}, "missing_days"),
        ({"missing_codes": "M"}, "missing_codes"),
        ({"missing_codes": [None]}, "missing_codes"),
        ({"missing_codes": {"tmaxx": [1]}}, "missing_codes, 'tmaxx'"),
        ({"trace": ["T"]}, "trace"),
        ({"trace": {"T": 25.4}}, "trace"),
        ({"trace": {"T": -0.1}}, "trace"),
        ({"columns": {"temperature": "tmin"}}, "columns, 'temperature'"),
        ({"columns": {"tmaxx": "tmin"}}, "columns, 'tmaxx'"),
    ],
)
def test_options_of_reading_that_are_none(options: dict[str, object], what: str) -> None:
    frame = pd.DataFrame({"time": ["2024-07-01"], "tmin": 9.0, "tmax": 20.0})
    assert only(frame, **options).what == what


def test_a_frame_has_no_delimiter() -> None:
    frame = pd.DataFrame({"time": ["2024-07-01"], "tmin": 9.0, "tmax": 20.0})
    fault = only(frame, layout=TableLayout(delimiter=";", units_line=2))
    assert fault.value == "delimiter, units_line"


# ------------------------------------------------------------------------------ how files are written
def test_an_encoding_that_is_not_utf_8_is_said(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    path.write_bytes("time,tmin,tmax\n,°C,°C\n2024-07-01,10,20\n".encode("cp1252"))
    fault = only(path)
    assert "cannot be read as text" in fault.problem
    assert 'encoding="cp1252"' in fault.mend
    weather = read_weather(path, layout=TableLayout(encoding="cp1252", units_line=2), **SITE)
    assert weather["tmin"].values.tolist() == [10.0]
    path.write_bytes(b"PK\x03\x04\x00\x00,a\n1,2\n")
    assert "is no text" in only(path).problem


def test_quoted_decimal_commas_between_commas(tmp_path: Path) -> None:
    path = write(tmp_path, 'time,tmin,tmax\n2024-07-01,"10,5","20,1"\n')
    weather = read_weather(path, layout=TableLayout(delimiter=",", decimal=","), **SITE)
    assert (float(weather["tmin"][0]), float(weather["tmax"][0])) == (10.5, 20.1)


def test_a_line_of_units_has_a_cell_for_each_column(tmp_path: Path) -> None:
    path = write(tmp_path, "time,tmin,tmax,rain\n,degF\n2024-07-01,50,60,0\n")
    fault = only(path, layout=TableLayout(units_line=2))
    assert (fault.where, fault.value, fault.allowed) == ("line 2", "2 cells", "4 cells")
    bracketed = write(tmp_path, "time,tmin,tmax,rain\n,[degF],(°F),[in]\n2024-07-01,50,68,1\n")
    weather = read_weather(bracketed, layout=TableLayout(units_line=2), **SITE)
    np.testing.assert_allclose([weather[name][0] for name in ("tmin", "tmax", "rain")], [10, 20, 25.4])


def test_thousands_are_told_from_decimals() -> None:
    frame = pd.DataFrame({"time": ["2024-07-01", "2024-07-02"], "tmin": 9.0, "tmax": 20.0, "solar": "17,234"})
    fault = only(frame, units={"solar": "kJ/m2"})
    assert fault.mend.startswith("if the comma parts thousands, take it out")


def test_only_dates_may_stand_in_two_columns() -> None:
    frame = pd.DataFrame({"time": ["2024-07-01"], "tmin": 9.0, "tmax": 20.0})
    assert only(frame, columns={"rain": ("tmin", "tmax")}).what == "column ('tmin', 'tmax') for 'rain'"


def test_a_unit_that_is_none_is_no_unit() -> None:
    frame = pd.DataFrame({"time": ["2024-07-01"], "tmin": 9.0, "tmax": 20.0})
    fault = only(frame, units={"tmax": None})
    assert (fault.what, fault.problem) == ("units, 'tmax'", "is no text")


def test_codes_of_numpy_are_codes_and_other_traces_are_none() -> None:
    frame = pd.DataFrame({"time": ["2024-07-01", "2024-07-02"], "tmin": [-999, 9], "tmax": 20.0})
    weather = read_weather(frame, missing_codes=(np.int64(-999),), **SITE)
    np.testing.assert_array_equal(weather["tmin"], [np.nan, 9])
    for depth in (None, [1], "1 mm"):
        assert only(frame, trace={"T": depth}, missing_codes=(-999,)).what == "trace"


def test_a_format_that_python_does_not_know() -> None:
    frame = pd.DataFrame({"time": ["2024-07-01"], "tmin": 9.0, "tmax": 20.0})
    fault = only(frame, layout=TableLayout(date_format="%Y-%Q"))
    assert (fault.what, fault.problem) == ("date_format", "cannot be used")


def test_flags_that_a_table_brings_are_read_when_they_are_ours(tmp_path: Path) -> None:
    text = "time,tmin,tmax,tmin_flag\n2024-07-01,10,20,0\n2024-07-02,11,21,2\n2024-07-03,12,22,\n"
    fault = only(write(tmp_path, text))
    assert fault.what == "column 'tmin_flag'"
    assert "whose are they?" in fault.problem
    assert "columns={'tmin_flag': 'tmin_flag'}" in fault.mend
    foreign = read_weather(write(tmp_path, text), columns={"tmin_flag": None}, **SITE)
    assert "tmin_flag" not in foreign
    ours = {"columns": {"tmin_flag": "tmin_flag"}}
    weather = read_weather(write(tmp_path, text), **ours, **SITE)
    assert weather["tmin_flag"].values.tolist() == [0, 2, 0]
    assert weather["tmin_flag"].dtype == np.int8
    path = tmp_path / "again.csv"
    weather.to_dataframe().reset_index().to_csv(path, index=False)
    again = read_weather(path, **ours, **SITE)
    xr.testing.assert_identical(again.drop_attrs(deep=False), weather.drop_attrs(deep=False))
    two = text.replace("time,", "station,time,").replace("\n2024", "\na,2024") + "b,2024-07-02,1,2,4\n"
    both = read_weather(write(tmp_path, two), missing_days="nan", **ours, **SITE)
    assert both["tmin_flag"].sel(station="b").values.tolist() == [0, 4, 0]
    own = text.replace("tmin,", "TN,", 1).replace("tmin_flag", "TN_flag")
    renamed = read_weather(write(tmp_path, own), columns={"tmin": "TN", "tmin_flag": "TN_flag"}, **SITE)
    assert renamed["tmin_flag"].values.tolist() == [0, 2, 0]
    for code, shown in (("77", "77.0"), ("256", "256.0"), ("2.7", "2.7"), ("inf", "inf")):
        fault = only(write(tmp_path, text.replace(",2\n", f",{code}\n")), **ours)
        assert (fault.what, fault.value) == ("tmin_flag", shown)


def test_other_ways_to_write_dates_get_a_hint_that_works() -> None:
    for cells, mend in (
        (["45474", "45475"], "origin='1899-12-30'"),
        (["2024-7-1", "2024-7-2"], '"%Y-%m-%d"'),
        (["13/07/2024 12:00 AM", "14/07/2024 12:00 AM"], '"%d/%m/%Y %I:%M %p"'),
    ):
        fault = only(pd.DataFrame({"time": cells, "tmin": 9.0, "tmax": 20.0}))
        assert mend in fault.mend
    frame = pd.DataFrame({"time": ["2024-7-1", "2024-7-2"], "tmin": 9.0, "tmax": 20.0})
    assert read_weather(frame, layout=TableLayout(date_format="%Y-%m-%d"), **SITE).sizes["time"] == 2
    noon = frame.assign(time=["13/07/2024 12:00 AM", "14/07/2024 12:00 AM"])
    assert read_weather(noon, layout=TableLayout(date_format="%d/%m/%Y %I:%M %p"), **SITE).sizes["time"] == 2

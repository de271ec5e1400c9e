"""What all tests share: how long property tests run, and comparisons with print that are put on record.

HYPOTHESIS_PROFILE=long asks for many more, freely random examples. ``--validation FILE`` writes every
comparison made by the fixture `check` to a page, docs/validation.md.
"""

import gc
import math
import os
import re
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, settings

# A case of the balance is several whole runs, and that it takes its time is no fault of the test.
_SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example]

settings.register_profile("ci", max_examples=6, deadline=None, derandomize=True, suppress_health_check=_SLOW)
# Stops at the first failure as it stands: shrinking a failing season takes minutes.
settings.register_profile("first", settings.get_profile("ci"), phases=[Phase.explicit, Phase.generate])
settings.register_profile("long", max_examples=1000, deadline=None, suppress_health_check=_SLOW)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


_ROUNDING = 1e-6
"""Below this a tolerance is there for rounding alone."""
_DIGITS = 4
"""Decimals shown where only rounding differs."""


class Row(NamedTuple):
    """One comparison, as the page shows it."""

    source: str
    quantity: str
    published: str
    got: str
    difference: str
    tolerance: str


class Check:
    """Compares with a published number, and takes the comparison down."""

    def __init__(self, rows):
        self.rows = rows

    def __call__(self, source, quantity, published, got, tolerance):
        """Assert that ``got`` is within ``tolerance`` of ``published``, each a number or an array.

        ``source`` names the document, then, after a comma, the place in it: "FAO-56, Example 2 (Eq. 7)".
        ``quantity`` carries its unit in brackets. An array is one row of the page.
        """
        __tracebackhide__ = True
        theirs, ours, allowed = np.broadcast_arrays(
            *(np.asarray(value, dtype=float) for value in (published, got, tolerance))
        )
        off = ours - theirs
        bad = ~(np.abs(off) <= allowed)  # written so that NaN is bad
        if bad.any():
            at = tuple(int(i) for i in np.argwhere(bad)[0])
            where = f" at {at if len(at) > 1 else at[0]}" if at else ""
            message = (
                f"{source}: {quantity}{where}: published {theirs[at]:g}, got {ours[at]:.9g}, "
                f"{off[at]:+.3g} apart, allowed {allowed[at]:g} ({bad.sum()} of {bad.size} values)"
            )
            raise AssertionError(message)
        self.rows.add(Row(source, quantity, *_written(theirs, ours, allowed)))


def _written(theirs, ours, allowed):
    """Write published, got, difference and tolerance to digits that the tolerance makes sensible."""
    least = float(allowed.min())
    off = ours - theirs
    if not allowed.any():  # copied, so exactly the same
        return _shown(theirs, _plain), _shown(ours, _plain), "0", "0"
    digits = _DIGITS if least < _ROUNDING else max(0, math.floor(-math.log10(least)) + 1)
    apart = off.item() if off.ndim == 0 else np.abs(off).max()
    return (
        _shown(theirs, lambda value: _published(value, digits - 1)),
        _shown(ours, lambda value: _fixed(value, digits)),
        # What rounding leaves is not the same on every machine.
        f"below {least:.3g}" if least < _ROUNDING else _fixed(apart, digits + 1),
        _span(allowed, lambda value: f"{value:.3g}"),
    )


def _fixed(value, digits):
    return f"{round(float(value), digits) + 0.0:.{digits}f}"  # + 0.0: no "-0.00"


def _plain(value):
    return f"{value:.6g}"


def _published(value, digits):
    """Write a published number with at least the zeros that its tolerance says were printed."""
    text = _plain(value)
    return max(text, _fixed(value, digits), key=len) if digits > 0 else text


def _span(values, write):
    low, high = write(values.min()), write(values.max())
    return low if low == high else f"{low} to {high}"


def _shown(values, write):
    """Write a number, a short row of numbers, or the range of a long one."""
    if values.size <= 5:
        return ", ".join(write(value) for value in values.ravel())
    return f"{values.size} values, {_span(values, write)}"


def _in_order(row):
    """Sort Example 2 before Example 11."""
    return [
        [(0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", text)]
        for text in row
    ]


_HEAD = """\
# Validation

What the tests compare with something outside this project: worked examples and tables of published
standards, other libraries, open data, rules of the trade. {count} comparisons, written from the tests' own
data by

    {command}

which leaves the page alone when any test fails. The tolerance is half of the last printed digit unless the
test says why it is wider; the reasons stand beside the checks in `tests/published` and `tests/data`. Where many
values are compared at once, the difference is the largest of them. "Our copy" means the handbook's tables against
spot values typed again from print. Full references are in [theory.md](theory.md#sources).
"""
_NOTES = {
    "spotpy": (
        "![Measured and simulated water from 0 to 0.5 m deep over three years](soil-moisture-site24.png)\n",
        "Nothing is fitted. What limits the comparison: the texture is assumed, not measured, and so are the "
        "calibration of the sensors and a uniform soil; the water table stands 0.4 to 1.2 m deep and is left out, "
        "which may be why the simulated summer is too dry; one site of grass. Much of the correlation is the season. "
        "[How far to trust it](limits.md#how-far-to-trust-it) says more.\n",
    )
}
"""What must be read beside a document's numbers."""
_COMMAND = "python -m pytest tests/published tests/data --validation docs/validation.md"


def _page(rows):
    """Lay the rows out by document."""
    lines = [_HEAD.format(count=len(rows), command=_COMMAND)]
    document = None
    for row in sorted(rows, key=_in_order):
        own, _, place = row.source.partition(", ")
        if own != document:
            document = own
            lines += [
                f"\n## {own}\n",
                *_NOTES.get(own, ()),
                "| where | quantity | published | got | difference | tolerance |",
                "|---|---|---|---|---|---|",
            ]
        lines.append(f"| {' | '.join((place, *row[1:]))} |")
    return "\n".join(lines) + "\n"


_ROWS = pytest.StashKey()


def pytest_addoption(parser):
    parser.addoption(
        "--validation", metavar="FILE", help="write every comparison with something outside to this page"
    )


def pytest_configure(config):
    if config.getoption("--validation") and config.getoption("numprocesses", None):
        message = "--validation gathers its rows in one process: leave out -n"
        raise pytest.UsageError(message)
    config.stash[_ROWS] = set()


def pytest_collection_finish():
    # What the libraries hold stays to the end; each full collection would walk through all of it again.
    gc.collect()
    gc.freeze()


def pytest_sessionfinish(session, exitstatus):
    target = session.config.getoption("--validation")
    if target and exitstatus == pytest.ExitCode.OK:
        Path(target).write_text(_page(session.config.stash[_ROWS]), encoding="utf-8")


@pytest.fixture(scope="session")
def check(pytestconfig):
    """Compare with a published number and put it on record: check(source, quantity, published, got, tolerance)."""
    return Check(pytestconfig.stash[_ROWS])


@pytest.fixture(scope="session")
def compare():
    """Compare as `check` does, off the record: for broken copies of the code."""
    return Check(set())

"""Which column of a source is which variable: by mapping, by name, by meaning; never by likeness."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence

from waterbudget.errors import Faults
from waterbudget.weather.flags import is_flag
from waterbudget.weather.options import Options
from waterbudget.weather.tables import DATE_COLUMNS, nearest


def pick(
    names: Sequence[Hashable],
    options: Options,
    faults: Faults,
    meant_by: Mapping[str, Hashable] | None = None,
) -> dict[str, Hashable]:
    """Find the source's own name of everything that it holds; `meant_by` are names by their meaning."""
    found: dict[str, Hashable] = {}
    columns = options.columns
    for name in (*options.names(), "time", "station"):
        if name in columns:
            if is_there(columns[name], names) if name == "time" else columns[name] in names:
                found[name] = columns[name]
            else:
                faults.add(
                    f"column {columns[name]!r} for {name!r}",
                    "is not in the source",
                    allowed="one of " + ", ".join(str(own) for own in names),
                    mend=meant(columns[name], names) or "correct the name in columns=",
                )
        elif name == "time":
            found.update(_date_column(names, faults))
        elif name in names:
            found[name] = name
        elif meant_by and name in meant_by and meant_by[name] not in columns.values():
            found[name] = meant_by[name]
    used: dict[Hashable, str] = {}
    for name, own in found.items():
        if own in used:
            faults.add(f"column {own!r}", f"stands for both {used[own]!r} and {name!r}", mend="map it once")
        elif list(names).count(own) > 1:
            faults.add(f"column {own!r}", "stands in the source more than once", mend="rename all but one")
        used[own] = name
    _misspelt(names, found, options.names(), faults)
    if not any(name in options.names() for name in (*found, *columns)):
        faults.add(
            "weather",
            "has no column that is known",
            value=", ".join(str(own) for own in names),
            allowed=", ".join(options.names()),
            mend='name yours by columns={"tmax": "their name", ...}',
        )
    return found


def is_there(own: Hashable, names: Sequence[Hashable]) -> bool:
    """Tell whether a column is in the source; dates may stand in two, date and time of day."""
    return all(one in names for one in own) if isinstance(own, tuple) and own not in names else own in names


def _date_column(names: Sequence[Hashable], faults: Faults) -> dict[str, Hashable]:
    """Find the dates where the user did not say which column holds them."""
    known = [name for name in DATE_COLUMNS if name in names]
    if len(known) == 1:
        return {"time": known[0]}
    faults.add(
        "date column",
        "is not known: there are both 'time' and 'date'" if known else "is missing",
        value=", ".join(str(own) for own in names),
        allowed="a column 'time' or 'date', or a date index",
        mend='name it by columns={"time": "their name"}',
    )
    return {}


def _misspelt(
    names: Sequence[Hashable], found: Mapping[str, Hashable], known: Sequence[str], faults: Faults
) -> None:
    """Refuse to pass over a column that is likely to be a canonical one under another spelling."""
    taken = set(found.values())
    for own in names:
        near = [name for name in nearest(own, known)[:1] if name not in found]
        if own not in taken and not is_flag(own) and near and _alike(str(own), near[0]):
            faults.add(
                f"column {own!r}",
                f"is much like {near[0]!r}, which is missing",
                mend=f"columns={{{near[0]!r}: {own!r}}}, or leave the column out if it is something else",
            )


def _alike(one: str, other: str) -> bool:
    """Tell whether two names differ by no more than case, signs and one letter in four."""
    return nearest(one.replace("_", ""), [other.replace("_", "")], cutoff=0.75) != []


def meant(word: object, known: Iterable[object]) -> str:
    """Write the known names that a word is much like; empty when there is none."""
    near = nearest(word, known)
    return f"did you mean {' or '.join(repr(name) for name in near)}?" if near else ""

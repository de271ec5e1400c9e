"""How a name that a person types finds its row: one rule for all tables."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from difflib import get_close_matches

from waterbudget.errors import collect

# Plural endings and what stands for them in the singular; the first that fits is taken.
_PLURALS = (
    ("ies", "y"),
    ("oes", "o"),
    ("ches", "ch"),
    ("shes", "sh"),
    ("sses", "ss"),
    ("ss", "ss"),
    ("s", ""),
)
_SHORTEST_STEM = 3
_FEW = 20
"""Up to so many entries are all listed where none looks like the name."""


def words(text: str) -> tuple[str, ...]:
    """Split a name into lower-case words in the singular; punctuation only separates."""
    return tuple(_singular(word) for word in re.findall(r"[^\W_]+", text.lower()))


def fitting(query: str, names: Sequence[Sequence[str]], *, whole: bool = False) -> list[int]:
    """Find the entries that a name may stand for.

    A name or synonym with the same words in the same order is taken first (case, punctuation and
    plural do not count). Otherwise all the words of the query must stand in a name or in one of its
    synonyms, in any order.

    Parameters
    ----------
    query : str
        What was typed.
    names : sequence of sequence of str
        For each entry its name and then its synonyms.
    whole : bool
        Take whole names only: for names such as texture classes, where one may be part of another.

    Returns
    -------
    list of int
        Positions in ``names``.
    """
    known = _split(names)
    asked = words(query) if isinstance(query, str) else ()
    hits = [index for index, entry in enumerate(known) if asked and asked in entry]
    if not hits and asked and not whole:
        count = Counter(asked)
        hits = [index for index, entry in enumerate(known) if any(count <= Counter(text) for text in entry)]
    return hits


def nearest(query: str, names: Sequence[Sequence[str]]) -> list[str]:
    """Give up to five names that look most like what was asked, the likest first."""
    where: dict[str, int] = {}
    for index, entry in enumerate(_split(names)):
        for text in entry:
            where.setdefault(" ".join(text), index)
            for word in text:  # a misspelt word may be the whole query: "tomatto", "aple"
                where.setdefault(word, index)
    asked = " ".join(words(query)) if isinstance(query, str) else ""
    close = get_close_matches(asked, where, n=8, cutoff=0.6)
    return [names[index][0] for index in dict.fromkeys(where[text] for text in close)][:5]


def find(what: str, query: str, names: Sequence[Sequence[str]], *, mend: str = "", listing: str = "") -> int:
    """Find the one entry that a name stands for, as `fitting` does.

    Parameters
    ----------
    what : str
        The kind of thing, for the message: ``"crop"``.
    query : str
        What was typed.
    names : sequence of sequence of str
        For each entry its name and then its synonyms.
    mend : str
        What to do when there is no such entry, where more can be said than how to list them all.
    listing : str
        What gives all the names in `waterbudget.handbook`, where it is not the function named for the kind:
        ``"table('salt_tolerance')['crop']"``.

    Returns
    -------
    int
        The position in ``names``.

    Raises
    ------
    InputError
        When several entries fit (all are listed) or none does (the nearest are listed).
    """
    hits = fitting(query, names)
    with collect() as faults:
        if len(hits) > 1:
            faults.add(
                what,
                f"the name fits {len(hits)} entries of the handbook",
                value=repr(query),
                allowed=quoted([names[index][0] for index in hits]),
                mend="give one of these names",
            )
        elif not hits:
            few = len(names) <= _FEW
            listed = [] if mend else nearest(query, names)
            label = "nearest names: " if listed else ""
            if not listed and few:
                listed = [entry[0] for entry in names]
            listing = listing or f"{what}s()['name']"
            table = listing.partition("[")[0]
            script = f"import waterbudget as wb; print(*wb.handbook.{listing}, sep='\\n')"
            faults.add(
                what,
                "the handbook has no entry of this name",
                value=repr(query),
                allowed=f"{label}{quoted(listed)}" if listed else "",
                mend=mend
                or f'waterbudget.handbook.{table} has all {len(names)}; print them: python -c "{script}"',
            )
    return hits[0]


def quoted(names: Sequence[str]) -> str:
    """Write names side by side."""
    return "; ".join(map(repr, names))


def _split(names: Sequence[Sequence[str]]) -> list[list[tuple[str, ...]]]:
    return [[words(text) for text in entry] for entry in names]


def _singular(word: str) -> str:
    for ending, single in _PLURALS:
        if word.endswith(ending) and len(word) - len(ending) + len(single) >= _SHORTEST_STEM:
            return word.removesuffix(ending) + single
    return word

"""How a name that a person types finds its row: one rule for crops, soils and systems."""

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


def words(text: str) -> tuple[str, ...]:
    """Split a name into lower-case words in the singular; punctuation only separates."""
    return tuple(_singular(word) for word in re.findall(r"[^\W_]+", text.lower()))


def find(what: str, query: str, names: Sequence[Sequence[str]], *, whole: bool = False) -> int:
    """Find the one entry that a name stands for.

    A name or synonym with the same words in the same order is taken first (case, punctuation and
    plural do not count). Otherwise all the words of the query must stand in a name or in one of its
    synonyms, in any order.

    Parameters
    ----------
    what : str
        The kind of thing, for the message: ``"crop"``.
    query : str
        What was typed.
    names : sequence of sequence of str
        For each entry its name and then its synonyms.
    whole : bool
        Take whole names only: for names such as texture classes, where one may be part of another.

    Returns
    -------
    int
        The position in ``names``.

    Raises
    ------
    InputError
        When several entries fit (all are listed) or none does (the nearest are listed).
    """
    known = [[words(text) for text in entry] for entry in names]
    asked = words(query) if isinstance(query, str) else ()
    hits = [index for index, entry in enumerate(known) if asked and asked in entry]
    if not hits and asked and not whole:
        count = Counter(asked)
        hits = [index for index, entry in enumerate(known) if any(count <= Counter(text) for text in entry)]
    with collect() as faults:
        if len(hits) > 1:
            faults.add(
                what,
                f"the name fits {len(hits)} entries of the handbook",
                value=repr(query),
                allowed="; ".join(repr(names[index][0]) for index in hits),
                mend="give one of these names",
            )
        elif not hits:
            near = _nearest(asked, known)
            listed = near or (range(len(names)) if len(names) <= 20 else ())
            faults.add(
                what,
                "the handbook has no entry of this name",
                value=repr(query),
                allowed=f"nearest names: {'; '.join(repr(names[index][0]) for index in listed)}"
                if listed
                else "",
                mend=f"waterbudget.handbook.{what}s() lists all {len(names)}",
            )
    return hits[0]


def _singular(word: str) -> str:
    for ending, single in _PLURALS:
        if word.endswith(ending) and len(word) - len(ending) + len(single) >= _SHORTEST_STEM:
            return word.removesuffix(ending) + single
    return word


def _nearest(asked: tuple[str, ...], known: Sequence[Sequence[tuple[str, ...]]]) -> list[int]:
    """Give up to five entries that look most like what was asked, the likest first."""
    where: dict[str, int] = {}
    for index, entry in enumerate(known):
        for text in entry:
            where.setdefault(" ".join(text), index)
            for word in text:  # a misspelt word may be the whole query: "tomatto", "aple"
                where.setdefault(word, index)
    close = get_close_matches(" ".join(asked), where, n=8, cutoff=0.6)
    return list(dict.fromkeys(where[text] for text in close))[:5]

"""Project: a name that stands nowhere. The name and those that are known in; what was found and a way out out."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable

from deadfront.project.errors import shortened
from deadfront.project.sources import character_name


def named(name: str) -> str:
    """A name as a finding shows it; a letter of another script, which may look like one of ours, is told."""
    other = next((letter for letter in name if letter.isalpha() and not _latin(letter)), None)
    return f"`{shortened(name)}`" + (f" with {character_name(other)}" if other is not None else "")


def suggestion(name: str, known: Iterable[str], what: str = "the names there") -> str:
    """What to write instead: the nearest of the names that are known, or all of them; `what` says whose they are."""
    names = list(known)
    folded = {known.casefold(): known for known in reversed(names)}
    near = difflib.get_close_matches(name, names, n=1) or difflib.get_close_matches(name.casefold(), folded, n=1)
    if near:
        return f"did you mean `{folded.get(near[0], near[0])}`?"
    return f"{what} are {', '.join(names)}" if names else "there are none yet"


def _latin(letter: str) -> bool:
    return letter.isascii() or unicodedata.name(letter, "").startswith("LATIN")

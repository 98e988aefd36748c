"""Operation: the small sentences of guards, goals and hold points. JSON objects in, frozen sentences out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from deadfront.operation.errors import Located
from deadfront.project.errors import shortened


@dataclass(frozen=True, slots=True)
class DeviceIn:
    """The handle of a device stands in one of the positions."""

    device: str
    positions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BladeIn:
    """The contacts of a device, seen through a window, stand in one of the positions, whatever the handle says."""

    device: str
    positions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LockHasKey:
    """A key sits in the lock (or, with `present` false, none does)."""

    lock: str
    present: bool


@dataclass(frozen=True, slots=True)
class KeyInHand:
    """Somebody holds a key of the code."""

    code: str


@dataclass(frozen=True, slots=True)
class Tested:
    """The point was proved dead, and nothing electrical has moved since."""

    point: str


@dataclass(frozen=True, slots=True)
class Dead:
    """The point is not live, and no source stands on an earth anywhere."""

    point: str


@dataclass(frozen=True, slots=True)
class Earthed:
    """The point is connected to earth."""

    point: str


@dataclass(frozen=True, slots=True)
class Discharged:
    """The store holds no charge."""

    store: str


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one of the sentences is true."""

    parts: tuple[Atom, ...]


@dataclass(frozen=True, slots=True)
class AllOf:
    """All of the sentences are true; with no sentence in it, true."""

    parts: tuple[Atom, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """The sentence is false."""

    part: Atom


Atom = DeviceIn | BladeIn | LockHasKey | KeyInHand | Tested | Dead | Earthed | Discharged | AnyOf | AllOf | Not

_FORMS = (
    '{"dev", "in"}, {"blade", "in"}, {"lock", "has_key"}, {"key"}, {"tested"}, {"dead"}, {"earthed"}, {"discharged"}, '
    '{"any"}, {"all"}, {"not"}'
)


def read_atom(data: Any, at: str) -> Atom:
    """Return the sentence a JSON object stands for; `at` is its path in the file. Raises `Located` if it is none."""
    if isinstance(data, dict):
        match data:
            case {"dev": str(name), "in": list(positions), **rest} if not rest:
                return DeviceIn(name, _names(positions, f"{at}.in"))
            case {"blade": str(name), "in": list(positions), **rest} if not rest:
                return BladeIn(name, _names(positions, f"{at}.in"))
            case {"lock": str(name), "has_key": bool(present), **rest} if not rest:
                return LockHasKey(name, present)
            case {"any": list(parts), **rest} if not rest:
                return AnyOf(tuple(read_atom(part, f"{at}.any[{n}]") for n, part in enumerate(parts)))
            case {"all": list(parts), **rest} if not rest:
                return AllOf(tuple(read_atom(part, f"{at}.all[{n}]") for n, part in enumerate(parts)))
            case {"not": dict(part), **rest} if not rest:
                return Not(read_atom(part, f"{at}.not"))
        if len(data) == 1:
            ((word, name),) = data.items()
            if word in _SIMPLE and isinstance(name, str):
                return _SIMPLE[word](name)
    found = _found(data)
    raise Located(at, "a sentence", found, f'for example `{{"dev": "SW", "in": ["open"]}}`; its forms are {_FORMS}')


def _found(data: Any) -> str:
    if isinstance(data, dict):
        names = ", ".join(f"`{shortened(str(name))}`" for name in list(data)[:4])
        return f"an object with {names}" if names else "an object with nothing in it"
    return "a list" if isinstance(data, list) else f"`{shortened(str(data))}`"


_SIMPLE: dict[str, type[KeyInHand] | type[Tested] | type[Dead] | type[Earthed] | type[Discharged]] = {
    "key": KeyInHand,
    "tested": Tested,
    "dead": Dead,
    "earthed": Earthed,
    "discharged": Discharged,
}


def _names(values: list[Any], at: str) -> tuple[str, ...]:
    for n, value in enumerate(values):
        if not isinstance(value, str):
            raise Located(f"{at}[{n}]", "a name", f"`{value}`", 'for example `"in": ["open"]`')
    return tuple(values)


def write_atom(atom: Atom) -> dict[str, Any]:
    """Return the JSON object that `read_atom` reads as the same sentence."""
    match atom:
        case DeviceIn(name, positions):
            return {"dev": name, "in": list(positions)}
        case BladeIn(name, positions):
            return {"blade": name, "in": list(positions)}
        case LockHasKey(name, present):
            return {"lock": name, "has_key": present}
        case KeyInHand(name):
            return {"key": name}
        case Tested(name):
            return {"tested": name}
        case Dead(name):
            return {"dead": name}
        case Earthed(name):
            return {"earthed": name}
        case Discharged(name):
            return {"discharged": name}
        case AnyOf(parts):
            return {"any": [write_atom(part) for part in parts]}
        case AllOf(parts):
            return {"all": [write_atom(part) for part in parts]}
        case Not(part):
            return {"not": write_atom(part)}


def simple_parts(atom: Atom) -> Iterator[Atom]:
    """Every sentence inside `atom` that has no sentence inside it."""
    match atom:
        case AnyOf(parts) | AllOf(parts):
            for part in parts:
                yield from simple_parts(part)
        case Not(part):
            yield from simple_parts(part)
        case _:
            yield atom

"""Dossier: what hands can do, and how the crew does it. A report comes in; texts and pictures of those pages go out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from deadfront.dossier.failure_pages import failure_tables, keys_at_work, positions_together
from deadfront.dossier.key_picture import KeyStep, has_keys, key_picture
from deadfront.dossier.procedure_sheets import places, sheet_texts
from deadfront.dossier.rest_picture import letter, rest_picture, way_words
from deadfront.dossier.sheet import Picture
from deadfront.dossier.state_picture import (
    Practice,
    Scene,
    changes_strip,
    legend_picture,
    state_picture,
    states_in_words,
)
from deadfront.operation.approach import unit_distances
from deadfront.operation.building import build
from deadfront.operation.errors import MachineTooLarge
from deadfront.operation.examining import doors_without_openings, examine
from deadfront.operation.handling import Stand, handling
from deadfront.operation.machine import KINDS, MODES, Machine, Mode
from deadfront.operation.procedures import Procedure, procedure
from deadfront.operation.resting import rests
from deadfront.operation.sheets import action_words, sheet
from deadfront.operation.station_machine import NothingToExamine, station_machine
from deadfront.operation.telling import Situation, outset, situation, told
from deadfront.operation.wording import HAZARDS, move_words

if TYPE_CHECKING:
    from deadfront.claims.report import Report
    from deadfront.station.station import Station

MODE_WORDS: dict[Mode, str] = {"hands": "what the hardware alone allows", "rules": "if people also obey the rules"}


@dataclass(slots=True)
class Album:
    """Pictures of the pages, each once, by the name under which the pages ask for it."""

    pictures: dict[str, Picture] = field(default_factory=dict)
    _names: dict[tuple[str, str], str] = field(default_factory=dict)

    def put(self, kind: str, key: str, make: Callable[[], Picture]) -> str:
        """Keep a picture under a name of its kind; the same key gives the same picture."""
        name = self._names.get((kind, key))
        if name is None:
            name = self._names[kind, key] = f"{kind}-{len(self.pictures)}"
            self.pictures[name] = make()
        return name


@dataclass(frozen=True, slots=True)
class Unit:
    """A machine to be told about, with the symbols of its practice and what a sheet's header says of distances."""

    machine: Machine
    practice: Practice
    distances: str
    tags: Mapping[str, str] = field(default_factory=dict)
    """Tags of the single-line, by what a crew calls the device."""
    places: Sequence[Mapping[str, Any]] = ()
    """Places of work with their arc energies."""
    stands: Mapping[str, Stand] = field(default_factory=dict)
    """Where and how each device is moved, by its name."""

    def start(self) -> Situation:
        """How everything stands at the outset."""
        plant = build(self.machine, "rules")
        return situation(plant, outset(plant))


def access(report: Report, *, only_sheets: bool = False) -> tuple[dict[str, Any], dict[str, Picture]]:
    """Texts and pictures about access; only those of the crew's sheets if asked for.

    Where the file does not say what a machine needs, the only text is the reason.
    """
    try:
        machine = station_machine(report.station).machine
        about = report.project.unit
        tags = _tags(report.station, machine)
        unit = Unit(machine, about.practice, unit_distances(about), tags, places(report), handling(about))
        texts, pictures = _pages(unit, only_sheets)
        return (texts if only_sheets else texts | _broken(report, machine)), pictures
    except (NothingToExamine, MachineTooLarge) as reason:
        return {"reason": str(reason), "tasks": []}, {}


def _tags(station: Station, machine: Machine) -> dict[str, str]:
    """A device of the machine that is one of the station's, or one of its two fuses, has the tag of the single-line."""
    tags = {device.key: device.tag for device in station.devices}
    fuses = dict(zip(("bayonet fuse", "limiter fuse"), tags.pop("fuses", "").split(", "), strict=False))
    return {device.name: (tags | fuses)[device.id] for device in machine.devices if device.id in tags | fuses}


def _pages(unit: Unit, only_sheets: bool) -> tuple[dict[str, Any], dict[str, Picture]]:
    album = Album()
    done = [(goal.id, procedure(unit.machine, goal)) for goal in unit.machine.goals]
    pages: dict[str, Any] = {
        "reason": "",
        "legend": album.put("legend", "", legend_picture),
        "tasks": [_task(unit, name, found, album) for name, found in done],
    }
    if not only_sheets:
        pages |= _verdicts(unit, album)
        pages["locks"], pages["keys"] = _locks(unit.machine), _keys(unit.machine)
        pages["rests"] = _rests(unit.machine, [found for _, found in done if found is not None], album)
    return pages, album.pictures


def _broken(report: Report, machine: Machine) -> dict[str, Any]:
    """The tables of failures, the positions that may stand together, and where spare keys are."""
    claim = next((claim for claim in report.claims if claim.id == "AC-06"), None)
    operation = report.project.unit.operation
    return {
        "failures": failure_tables(machine, claim),
        "together": positions_together(machine),
        "key_count": keys_at_work(machine),
        "spare_keys": (operation.spare_keys if operation else None) or "",
    }


# --- what hands reach ---


def _verdicts(unit: Unit, album: Album) -> dict[str, Any]:
    found = {mode: examine(unit.machine, mode) for mode in MODES}
    rows = [
        {"kind": HAZARDS[kind]} | {mode: _reach(found[mode].sequences.get(kind)) for mode in MODES} for kind in KINDS
    ]
    modes = [
        {"mode": mode, "words": MODE_WORDS[mode], "states": f"{one.states}", "depth": f"{one.depth}"}
        for mode, one in found.items()
    ]
    by_hands, by_rules = found["hands"].sequences, found["rules"].sequences
    sequences = [
        _sequence(unit, "hands", [k for k in KINDS if by_hands.get(k) == s], s, album) for s in _each(by_hands)
    ]
    sequences += [
        _sequence(unit, "rules", [k for k in KINDS if by_rules.get(k) == s], s, album)
        for s in _each(by_rules)
        if s not in by_hands.values()
    ]
    doors = list(doors_without_openings(unit.machine))
    return {"modes": modes, "hazards": rows, "sequences": sequences, "not_examined": doors}


def _each(sequences: dict[Any, tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Every sequence once: one move may raise several kinds."""
    return list(dict.fromkeys(sequences.values()))


def _reach(sequence: tuple[str, ...] | None) -> str:
    if sequence is None:
        return "never"
    return f"in {len(sequence)} moves" if len(sequence) > 1 else "in 1 move"


def _sequence(unit: Unit, mode: Mode, kinds: Sequence[Any], texts: tuple[str, ...], album: Album) -> dict[str, Any]:
    """One shortest sequence, move by move, with what is live, earthed and open after each."""
    machine, rows = unit.machine, []
    before = unit.start()
    for number, move in enumerate(told(build(machine, mode), texts), start=1):
        rows.append(
            {
                "number": str(number),
                "words": move_words(machine, move.text),
                "danger": ", ".join(HAZARDS[kind] for kind in move.kinds),
                "standing": standing(move.after),
                "picture": _shown(unit, move.text, before, move.after, album, danger=bool(move.kinds)),
            }
        )
        before = move.after
    return {"title": "; ".join(HAZARDS[kind] for kind in kinds), "mode": MODE_WORDS[mode], "steps": rows}


def standing(after: Situation) -> str:
    """What is live, earthed and open, in one line."""
    groups = [("live", after.live), ("earthed", after.earthed), ("open", after.open), ("charged", after.charged)]
    words = "; ".join(
        f"{name}: {', '.join(names) or 'nothing'}" for name, names in groups if names or name != "charged"
    )
    return f"{words}; a source stands on an earth" if after.fault else words


def _shown(unit: Unit, text: str, before: Situation, after: Situation, album: Album, *, danger: bool = False) -> str:
    """The picture of a step that changes what the strip shows; an empty name for one that does not."""
    if not changes_strip(unit.machine, before, after):
        return ""
    scene = Scene(unit.machine, unit.practice, after, text.partition(":")[0], danger)
    words = states_in_words(scene)
    alternate = f"After {move_words(unit.machine, text)}: {words}"
    name = f"{scene.moved}|{danger}|{words}|{after.open}|{after.charged}"
    return album.put("state", name, lambda: state_picture(scene, alternate))


# --- how the crew does a task ---


def _task(unit: Unit, name: str, found: Procedure | None, album: Album) -> dict[str, Any]:
    """The sheet of a task with its pictures; only its name where no way leads there."""
    if found is None:
        return {"name": _titled(name), "way": False}
    machine, start = unit.machine, unit.start()
    steps = [KeyStep(n, move_words(machine, one.text), one.after) for n, one in enumerate(found.steps, start=1)]
    keys = ""
    if has_keys(machine) and any(one.after.keys != start.keys for one in found.steps):
        keys = album.put("keys", name, lambda: key_picture(machine, start, steps, f"Keys during: {name}"))
    made = sheet_texts(sheet(machine, found, unit.distances, unit.stands), unit.tags, unit.places)
    return made | {
        "name": _titled(name),
        "way": True,
        "key_picture": keys,
        "film": list(_film(unit, found, start, album)),
    }


def _titled(name: str) -> str:
    return name[:1].upper() + name[1:]


def _film(unit: Unit, found: Procedure, before: Situation, album: Album) -> Iterator[dict[str, str]]:
    """The steps that change what is live, earthed, proved or within reach, each with its picture."""
    for number, one in enumerate(found.steps, start=1):
        picture = _shown(unit, one.text, before, one.after, album)
        if picture:
            yield {"number": str(number), "words": action_words(unit.machine, one.text), "picture": picture}
        before = one.after


# --- keys and rest ---


def _locks(machine: Machine) -> list[dict[str, str]]:
    """Every lock and every slot of an exchange: what it holds, its code, and when its key comes out."""
    rows = [
        {
            "place": lock.id,
            "holds": machine.device(lock.device).id,
            "code": lock.code,
            "free": f"while it stands at {' or '.join(lock.free_at)}",
        }
        for lock in machine.locks
    ]
    for box in machine.exchanges:
        taken, given = (", ".join(slot.code for slot in slots) for slots in (box.inputs, box.outputs))
        rows += [{"place": s.id, "holds": box.id, "code": s.code, "free": f"while {given} is home"} for s in box.inputs]
        rows += [{"place": s.id, "holds": box.id, "code": s.code, "free": f"while {taken} is in"} for s in box.outputs]
    return rows


def _keys(machine: Machine) -> list[dict[str, str]]:
    """Every key that may exist: its code, and where it is in normal service. One more of a code defeats the locks."""
    return [{"key": key.id, "code": key.code, "start": key.start} for key in machine.keys]


def _rests(machine: Machine, done: Sequence[Procedure], album: Album) -> dict[str, Any] | None:
    found = rests(machine, done)
    if found is None or len(found.states) < 2:
        return None
    ways = [
        {
            "number": str(number),
            "origin": letter(move.origin),
            "target": letter(move.target),
            "words": way_words(machine, move),
        }
        for number, move in enumerate(found.moves, start=1)
    ]
    picture = album.put("rests", "", lambda: rest_picture(machine, found))
    return {"picture": picture, "ways": ways, "whole": found.whole}

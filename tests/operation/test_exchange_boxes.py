"""Operation: two key exchange boxes side by side, each of which asks for its own keys."""

from __future__ import annotations

from typing import Any

from deadfront.operation.examining import examine
from deadfront.operation.machine_file import read_machine


def two_boxes(*hazards: dict[str, Any]) -> dict[str, Any]:
    """Box 1 gives B for A, box 2 gives D for C; A and D are in a hand at the outset, B and C are home."""
    door = {"id": "DOOR", "kind": "door", "positions": ["closed", "open"], "start": "closed"}
    door |= {"moves": [{"from": ["closed"], "to": "open"}, {"from": ["open"], "to": "closed"}]}

    def box(number: int, taken: str, given: str) -> dict[str, Any]:
        slots = ({"id": f"{code.lower()}{number}", "code": code} for code in (taken, given))
        return {"id": f"BOX {number}", "in": [next(slots)], "out": [next(slots)]}

    homes = {"A": "hand", "B": "b1", "C": "c2", "D": "hand"}
    return {
        "id": "boxes",
        "title": "two exchange boxes",
        "points": ["P"],
        "devices": [door],
        "exchanges": [box(1, "A", "B"), box(2, "C", "D")],
        "keys": [{"id": f"K{code}", "code": code, "start": home} for code, home in homes.items()],
        "state_hazards": [{"id": f"watched {n}", "if": one} for n, one in enumerate(hazards)],
    }


def hazards_of(*hazards: dict[str, Any]) -> dict[str, tuple[str, ...]]:
    """Shortest sequences to the hazards, by hands."""
    return dict(examine(read_machine(two_boxes(*hazards)), "hands").sequences)


def test_neither_box_gives_both_of_its_keys():
    """A with B, or C with D, never lie in a hand together, whatever the other box holds."""
    both = [{"all": [{"key": one}, {"key": other}]} for one, other in (("A", "B"), ("C", "D"))]
    assert hazards_of(*both) == {}


def test_each_box_gives_for_its_own_key():
    """B comes for A and C for D, in two moves each: no key of the other box is asked for."""
    assert hazards_of({"key": "B"}) == {"PERSON": ("key KA: hand->a1", "key KB: b1->hand")}
    assert hazards_of({"key": "C"}) == {"PERSON": ("key KD: hand->d2", "key KC: c2->hand")}


def test_keys_of_two_boxes_may_lie_in_a_hand_together():
    """B and C at once: both of the others are home then, four moves."""
    found = hazards_of({"all": [{"key": "B"}, {"key": "C"}]})["PERSON"]
    assert len(found) == 4
    assert set(found) == {"key KA: hand->a1", "key KB: b1->hand", "key KD: hand->d2", "key KC: c2->hand"}

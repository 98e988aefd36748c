"""Dossier: the sentences that stand in every dossier. Nothing comes in; cautions, legends and labels go out."""

from __future__ import annotations

BAND = "demonstration data - not for construction"
"""On every page of a dossier that rests on invented data."""

FOOTER = (
    "Supports, and does not replace, the judgement and seal of a licensed professional. Local code and the authority "
    "having jurisdiction govern. De-energised work is the rule."
)

PURPOSE = (
    "This dossier states, claim by claim, what must be true of one compact liquid-filled substation at one site, and "
    "shows the arithmetic by which each claim is shown or refuted. It is made from the project file attached to this "
    "document; whoever has this document can compute it again and compare."
)

# Topics of the reference "dossier-and-labels", section 7 [C], in this project's own words.
CAUTIONS: tuple[str, ...] = (
    "This dossier supports the judgement of a licensed professional. It replaces neither that judgement nor a seal.",
    "The code in force at the site and the authority having jurisdiction decide wherever they differ from this "
    "dossier.",
    "De-energised work is the rule. Work on or near live parts needs its own justification and its own permit; nothing "
    "in this dossier invites to it.",
    "The results hold for the attached files, whose checksums stand on the last sheet, with the settings and curves in "
    "them, and for the date of issue. Every change voids them until they are computed again.",
    "Not covered: blast and pressure, sound, molten metal, smoke and toxic gas, falling parts, arcs under liquid, "
    "direct current, and every hazard that no claim names.",
    "An incident energy is stated for one working distance. Hands are nearer to the arc than that, and receive more.",
    "Protective clothing lessens burns; it does not remove the danger. The arc-flash boundary is the distance of "
    "1.2 cal/cm², the onset of a second-degree burn, and not the distance of no injury.",
    "Protective devices are taken to be of the stated type, set as stated and maintained. A device that fails, or a "
    "fuse of another make, lengthens the arc.",
    "The number of persons present, their way out, and who may open which door are for the owner's rules to settle.",
    "Study data are reviewed at intervals of five years at most and after every major change (NFPA 70E 130.5).",
    "An error found in this dossier is reported to its creator before anyone relies on the result again. Where it is "
    "translated, the language that was signed governs.",
)

# Tags by which every number says how its source was seen.
TAGS: tuple[tuple[str, str], ...] = (
    ("V", "seen in one source text"),
    ("V2", "seen in two independent source texts"),
    ("M", "from memory, not seen; to be read against the standard before anyone relies on it"),
    ("C", "common practice, no single source"),
    ("D", "derived or computed here"),
)

VERDICTS: tuple[tuple[str, str], ...] = (
    ("refuted", "a case was found in which the claim does not hold"),
    ("open", "cannot be decided: an entry is missing, or the check did not decide it"),
    ("shown", "holds in every case checked, to the extent its coverage says"),
    ("not applicable", "this unit has nothing the claim speaks of"),
)
"""The verdicts in the order in which a reader needs them, and what each means."""

ROUNDING = (
    "Verdicts come from unrounded numbers. In print, a demand is rounded up, a rating, a margin and a smallest current "
    "down; entered numbers stand as entered. Both systems of units come from the unrounded number, so one printed "
    "value converted may differ from the other by a step."
)

NO_OWNER = "no owner named"
NO_DATE = "date of issue not given"
NOT_GIVEN = "to be given"
SIGN_BY_HAND = "to be signed by hand"

"""Tests: a small reader of exported Promela text, so that the text itself is executed without a model checker."""

from __future__ import annotations

import re
from collections import deque

OPTION = re.compile(r"^  :: d_step \{ (?P<guard>.*?) -> (?P<acts>.*) \} /\* (?P<text>.*) \*/$")
INLINE = re.compile(r"inline (\w+)\(([^)]*)\) \{\n(.*?)\n\}", re.DOTALL)


class Watched(Exception):  # noqa: N818  (a hazard that is watched for, not an error)
    """The assertion of the watched hazard failed."""


def _python(expression: str) -> str:
    """Promela's operators in Python's words."""
    text = re.sub(r"!(?!=)", " not ", expression.replace("&&", " and ").replace("||", " or "))
    return text.replace(" -> ", " ~THEN~ ").replace(" : ", " ~ELSE~ ")


def _value(expression: str) -> str:
    """Turn every `(c -> a : b)` inside out."""
    tokens = deque(re.split(r"(\(|\)|~THEN~|~ELSE~)", _python(expression)))
    return _group(tokens)


def _group(tokens: deque[str]) -> str:
    parts = [""]
    while tokens:
        token = tokens.popleft()
        if token == ")":
            break
        if token in ("~THEN~", "~ELSE~"):
            parts.append("")
        else:
            parts[-1] += f"({_group(tokens)})" if token == "(" else token
    return parts[0] if len(parts) == 1 else f"({parts[1]}) if ({parts[0]}) else ({parts[2]})"


def run(text: str, *, rules: bool, watch: int = 0) -> tuple[int, bool]:
    """Return the number of states reached and whether the watched hazard was met."""
    text = re.sub(r"/\*.*?\*/", "", text.split("init {")[0], flags=re.DOTALL) + "init {" + text.split("init {")[1]
    head, body = text.split("init {")
    inlines = {name: (params, block) for name, params, block in INLINE.findall(head)}
    declared = INLINE.sub("", head)
    variables: dict[str, object] = {"RULES": int(rules), "WATCH": watch}
    for name, size, value in re.findall(r"(?:byte|bool) (\w+)(?:\[(\d+)\])?(?: = (\d+))?;", declared):
        variables[name] = [0] * int(size) if size else int(value)

    def statements(acts: str) -> list[str]:
        lines = []
        for part in (p.strip() for p in acts.split(";")):
            call = re.fullmatch(r"(\w+)\(([^()]*)\)", part)
            if call and call[1] in inlines:
                params, block = inlines[call[1]]
                for param, argument in zip(filter(None, params.split(", ")), call[2].split(", "), strict=False):
                    block = re.sub(rf"\b{param}\b", argument, block)
                lines += statements(block)
            elif part.startswith("assert("):
                lines.append(f"if not ({_python(part[6:])}): raise Watched")
            elif part and part != "skip":
                target, value = part.split(" = ", 1)
                lines.append(f"{target} = int({_value(value)})")
        return lines

    def compiled(acts: str) -> object:
        return compile("\n".join(statements(acts)), "promela", "exec")

    options = [OPTION.match(line) for line in body.splitlines()]
    moves = [
        (compile(_python(option["guard"]).strip(), "guard", "eval"), compiled(option["acts"]))
        for option in options
        if option
    ]
    names = sorted(name for name in variables if name not in ("RULES", "WATCH"))

    def frozen(values: dict[str, object]) -> tuple[object, ...]:
        return tuple(tuple(v) if isinstance(v := values[name], list) else v for name in names)

    def thawed(state: tuple[object, ...]) -> dict[str, object]:
        values = {name: list(v) if isinstance(v, tuple) else v for name, v in zip(names, state, strict=True)}
        return values | {"RULES": int(rules), "WATCH": watch, "Watched": Watched}

    first = thawed(frozen(variables))
    exec(compiled("settle()"), first)  # the text is our own export
    seen, waiting = {frozen(first)}, deque([frozen(first)])
    while waiting:
        state = waiting.popleft()
        for guard, acts in moves:
            values = thawed(state)
            if eval(guard, values):  # the text is our own export
                try:
                    exec(acts, values)
                except Watched:
                    return len(seen), True
                after = frozen(values)
                if after not in seen:
                    seen.add(after)
                    waiting.append(after)
    return len(seen), False

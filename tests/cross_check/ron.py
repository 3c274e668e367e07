"""Reads and writes RON (Rusty Object Notation) as far as project files use it, after the grammar of the format's own
documentation (github.com/ron-rs/ron, docs/grammar.md). Shares no code with the program.

A struct becomes a dict, a list a list, a tuple a tuple, and an enum's variant a `Variant`: its name and what it holds
(None, a value, a dict, or a tuple of several values). `Some(x)` is a Variant too; `some` opens it.
"""
import dataclasses
import json
import re

TOKEN = re.compile(
    r'\s+|//[^\n]*|/\*.*?\*/'                                                    # nothing
    r'|(?P<string>"(?:[^"\\]|\\.)*")'
    r'|(?P<number>[+-]?(?:\d[\d_]*(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+(?:[eE][+-]?\d+)?))'
    r'|(?P<name>[A-Za-z_][A-Za-z0-9_]*)'
    r'|(?P<mark>[()\[\]{}:,])', re.S)


@dataclasses.dataclass
class Variant:
    name: str
    value: object = None


class Wrapped(dict):
    """A struct in brackets of its own within a variant's, `Port((part: 1))` and not `Metered(limit: 1)`."""


def some(value):
    """What an optional value holds, or None."""
    return value.value if isinstance(value, Variant) and value.name == "Some" else None


def read(text):
    tokens, at = [], 0
    while at < len(text):
        found = TOKEN.match(text, at)
        if not found:
            raise ValueError(f"not RON at character {at}: {text[at:at + 30]!r}")
        if found.lastgroup:
            tokens.append((found.lastgroup, found[found.lastgroup]))
        at = found.end()
    value, at = _value(tokens, 0)
    if at != len(tokens):
        raise ValueError("more than one value")
    return value


def _value(tokens, at):
    kind, word = tokens[at]
    if kind == "string":
        return json.loads(word.replace("\\'", "'")), at + 1
    if kind == "number":
        plain = word.replace("_", "")
        return (int(plain) if re.fullmatch(r"[+-]?\d+", plain) else float(plain)), at + 1
    if kind == "name":
        if word in ("true", "false"):
            return word == "true", at + 1
        if tokens[at + 1:at + 2] == [("mark", "(")]:
            inside, at = _group(tokens, at + 1)
            if isinstance(inside, tuple) and len(inside) == 1:
                inside = Wrapped(inside[0]) if isinstance(inside[0], dict) else inside[0]
            return Variant(word, inside), at
        return Variant(word), at + 1
    if word == "[":
        items, at = [], at + 1
        while tokens[at] != ("mark", "]"):
            item, at = _value(tokens, at)
            items.append(item)
            at += tokens[at] == ("mark", ",")
        return items, at + 1
    if word == "(":
        return _group(tokens, at)
    raise ValueError(f"{word} where a value should be")


def _group(tokens, at):
    """What stands in round brackets: fields with names, or a tuple."""
    at += 1
    if tokens[at][0] == "name" and tokens[at + 1] == ("mark", ":"):
        fields = {}
        while tokens[at] != ("mark", ")"):
            name = tokens[at][1]
            if name in fields or tokens[at + 1] != ("mark", ":"):
                raise ValueError(f"field {name}")
            fields[name], at = _value(tokens, at + 2)
            at += tokens[at] == ("mark", ",")
        return fields, at + 1
    items = []
    while tokens[at] != ("mark", ")"):
        item, at = _value(tokens, at)
        items.append(item)
        at += tokens[at] == ("mark", ",")
    return tuple(items), at + 1


def write(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, Variant):
        if value.value is None:
            return value.name
        inside = write(value.value)
        bracketed = isinstance(value.value, tuple) or isinstance(value.value, dict) and not isinstance(value.value, Wrapped)
        return value.name + (inside if bracketed else f"({inside})")
    if isinstance(value, dict):
        return "(" + ", ".join(f"{name}: {write(one)}" for name, one in value.items()) + ")"
    if isinstance(value, list):
        return "[" + ",\n".join(map(write, value)) + "]"
    return "(" + ", ".join(map(write, value)) + ")"

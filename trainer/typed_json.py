"""JSON of files: read as typed values or refused in words, and written as plain ASCII.

A type carries its own bounds (`msgspec.Meta`), so that wrong types, NaN, huge numbers and endless
lists are faults of the file and never reach the arithmetic. Floats come back bit for bit. This is
the one place that puts a fault of such a file into words.

Writing stays with Python's own encoder: msgspec would write NaN as null, where a NaN is a fault of
ours and has to raise, and other letters than ASCII, which a terminal might act on.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import msgspec
from msgspec import Meta, inspect

from trainer.checked import exact
from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")

MAX_DEPTH = 24
"""How deep plain values may be nested; a summary needs five levels."""

Text = Annotated[str, Meta(max_length=2000)]
MidiNumber = Annotated[int, Meta(ge=0, le=127)]
Count = Annotated[int, Meta(ge=0, le=10**9)]

Plain = dict[str, Any]
"""A table of plain values of any kind: `checked_plain` bounds what is in it."""

NOT_JSON_FIX = (
    "it was damaged or edited; put a copy of the file back or fix that line, it was left as it is"
)

_PLACE = re.compile(r"(.*?)(?: - at (`key` in )?`\$(.*)`)?", re.DOTALL)
_STEP = re.compile(r"\.(\w+)|\[(\d+|\.\.\.)\]")
_SURROGATE = re.compile(rb"\\\\|\\ud[89ab]..\\ud[c-f]..|\\ud[89a-f]..", re.IGNORECASE)


def reader(kind: type[T]) -> Callable[[bytes], T]:
    """Return a reader of JSON texts of one type; it raises BadInput naming the place in the text.

    Keys that the type does not name are passed over: a later version may have added them.
    """
    decode = msgspec.json.Decoder(kind, dec_hook=_custom).decode

    def read(raw: bytes) -> T:
        try:
            return decode(raw)
        except msgspec.ValidationError as error:
            raise _fault(str(error), kind) from None
        except RecursionError:
            raise BadInput("the line is nested too deeply") from None
        except (msgspec.MsgspecError, ValueError):
            whole = without_half_surrogates(raw)
            if whole == raw:
                raise BadInput("the line is not JSON", fix=NOT_JSON_FIX) from None
            return read(whole)

    return read


def converted(value: object, kind: type[T], *, strict: bool = True) -> T:
    """Return plain values as a type; raises BadInput naming the place in them.

    Where it is not `strict`, numbers may be written as text.
    """
    try:
        return msgspec.convert(value, kind, str_keys=True, strict=strict, dec_hook=_custom)
    except msgspec.ValidationError as error:
        raise _fault(str(error), kind) from None


def checked_plain(table: Plain, name: str) -> Plain:
    """Return a table whose values are neither nested too deeply nor beyond 64 bits."""
    waiting: list[tuple[Any, int]] = [(table, 0)]
    while waiting:
        value, depth = waiting.pop()
        if depth > MAX_DEPTH:
            raise BadInput("is nested too deeply", where=name)
        if isinstance(value, (dict, list)):
            inside = value.values() if isinstance(value, dict) else value
            waiting += [(one, depth + 1) for one in inside]
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            raise BadInput("has a whole number that is too large", where=name)
    return table


def encode(value: Any) -> bytes:
    """Return a value as one line of JSON in plain ASCII. A NaN is a fault of ours and raises."""
    raw = _encode(value).encode("ascii")
    return without_half_surrogates(raw) if b"\\ud" in raw else raw


def without_half_surrogates(raw: bytes) -> bytes:
    """Return JSON with every half of a pair of surrogates, which is no letter, put as U+FFFD."""
    return _SURROGATE.sub(lambda one: one[0] if len(one[0]) in (2, 12) else rb"\ufffd", raw)


def plain_number(value: Any) -> Any:
    """Return one of NumPy's numbers as Python's own; TypeError for what is no number."""
    if not hasattr(value, "item") or getattr(value, "ndim", False):
        raise TypeError(f"{type(value).__name__} is no value of JSON")
    return value.item()


_encode = json.JSONEncoder(allow_nan=False, separators=(",", ":"), default=plain_number).encode


def _custom(kind: type, value: Any) -> Any:
    if kind is not Fraction:
        return kind(value)
    try:
        return exact(value)
    except BadInput as fault:  # msgspec adds the place to this one
        raise ValueError(fault.what) from None


def _fault(message: str, kind: Any) -> BadInput:
    """Return msgspec's message as a fault in our words: the place by its keys, and what belongs."""
    found = _PLACE.fullmatch(message)
    assert found
    what, key, path = found[1], found[2], found[3] or ""
    if what.startswith("Integer value out of range"):
        return BadInput("has a whole number that is too large", where=_walked(path, kind)[0])
    where, wanted = _walked(path, kind)
    if missing := re.fullmatch(r"Object missing required field `(.*)`", what):
        return BadInput(f'"{missing[1]}" is missing', where=where)
    if key and isinstance(wanted, inspect.DictType):
        return BadInput(f"has a key that is not {_described(wanted.key_type)}", where=where)
    return BadInput(f"must be {_described(wanted)}", where=where)


def _walked(path: str, kind: Any) -> tuple[str | None, inspect.Type]:
    """Return a place such as `notes[0].voice` by the names of its fields, and the type there."""
    wanted, words = inspect.type_info(kind), ""
    for step in _STEP.finditer(path):
        wanted = _plain_type(wanted)
        wanted = wanted.type if isinstance(wanted, inspect.Metadata) else wanted
        name, index = step[1], step[2]
        if isinstance(wanted, (inspect.StructType, inspect.DataclassType)):
            fields = wanted.fields
            field = fields[int(index)] if index else _named(fields, name)
            wanted, words = field.type, f"{words}.{field.encode_name}"
        elif isinstance(wanted, inspect.TupleType):
            wanted, words = wanted.item_types[int(index)], f"{words}[{index}]"
        elif isinstance(wanted, inspect.DictType):
            wanted = wanted.value_type
        elif isinstance(wanted, (inspect.ListType, inspect.VarTupleType)):
            wanted, words = wanted.item_type, f"{words}[{index}]"
        else:
            break
    return words.lstrip(".") or None, _plain_type(wanted)


def _named(fields: tuple[inspect.Field, ...], name: str) -> inspect.Field:
    return next(field for field in fields if field.encode_name == name)


def _plain_type(kind: inspect.Type) -> inspect.Type:
    """Return a type without its being optional."""
    if isinstance(kind, inspect.UnionType):
        empty = (inspect.NoneType, type(None))
        return next(one for one in kind.types if not isinstance(one, empty))
    return kind


def _described(kind: inspect.Type) -> str:
    """Return in words what belongs where a type is wanted."""
    match kind:
        case inspect.Metadata(extra_json_schema={"description": str(words)}):
            return words
        case inspect.IntType():
            return "a whole number" + _range(kind)
        case inspect.FloatType():
            return "a number" + _range(kind)
        case inspect.StrType():
            return (
                f"a text of at most {kind.max_length} characters" if kind.max_length else "a text"
            )
        case inspect.BoolType():
            return "true or false"
        case inspect.EnumType():
            return f"one of {', '.join(str(one.value) for one in kind.cls)}"
        case inspect.LiteralType():
            return f"one of {', '.join(map(str, kind.values))}"
        case inspect.CustomType():
            return 'a fraction written as text, like "7/4"'
        case inspect.ListType() | inspect.VarTupleType():
            most = f"at most {kind.max_length}" if kind.max_length else "any number"
            return f"a list of {f'1 to {kind.max_length}' if kind.min_length else most}"
        case inspect.TupleType():
            return f"[{', '.join(map(_described, kind.item_types))}]"
        case inspect.StructType(array_like=True):
            return f"[{', '.join(field.encode_name for field in kind.fields if field.required)}]"
        case _:
            return "a table of named values"


def _range(kind: inspect.IntType | inspect.FloatType) -> str:
    return "" if kind.ge is None or kind.le is None else f" from {kind.ge:g} to {kind.le:g}"

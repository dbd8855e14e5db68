"""Texts as they were spelled before, written the present way.

Before, `R*4` repeated a stroke, `[R L]*2` a group, and `snare:rim` named a zone. Whoever still
writes so is shown the same text as it is written now.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.checked import shortened
from trainer.errors import BadInput

_SIGNS = "*[]"
LONGEST = 400
"""Characters up to which a whole text is written again; for a longer one the rules are named."""

_RULES = 'write repeats as "snare x4", groups as "|: ride snare :| x2", zones as "snare/rim"'


def is_old(text: str) -> bool:
    """Return whether a text has signs that are no longer used."""
    return any(sign in text for sign in _SIGNS) or text.count(":") > text.count("|:") + text.count(
        ":|"
    )


def refuse_old(text: str) -> None:
    """Raise BadInput with the present spelling where a text is spelled as before."""
    if is_old(text):
        new = present_spelling(text) if len(text) <= LONGEST else ""
        raise BadInput(
            f'"{shortened(text)}" is the old spelling', fix=f'write "{new}"' if new else _RULES
        )


@dataclass(slots=True)
class _Part:
    """A word, or a group of parts."""

    word: str = ""
    parts: list[_Part] = field(default_factory=list)
    times: int = 1


def present_spelling(text: str) -> str:
    """Return a sticking, a path or note values of the old spelling in the present one.

    "" where the text could not be read before either.
    """
    if not any(sign in text for sign in _SIGNS):
        return _with_zones(text)
    if "|:" in text or ":|" in text:
        return ""
    stack: list[list[_Part]] = [[]]
    at = 0
    while at < len(text):
        sign, end = text[at], at + 1
        if sign == "[":
            stack.append([])
            stack[-2].append(_Part(parts=stack[-1]))
        elif sign == "]":
            if len(stack) == 1 or not stack.pop():
                return ""
        elif sign == "*":
            end = _digits_end(text, end)
            if end == at + 1 or not stack[-1]:
                return ""
            _repeat(stack[-1], int(text[at + 1 : end]))
        elif not sign.isspace() and sign != ",":
            end = _word_end(text, at)
            stack[-1].append(_Part(text[at:end].replace(":", "/")))
        at = end
    return _line(stack[0]) if len(stack) == 1 else ""


def _with_zones(text: str) -> str:
    """Return a text of the present spelling whose zones are spelled as before."""
    kept = text.replace("|:", "\0").replace(":|", "\1").replace(":", "/")
    return kept.replace("\0", "|:").replace("\1", ":|")


def _digits_end(text: str, at: int) -> int:
    while at < len(text) and "0" <= text[at] <= "9":
        at += 1
    return at


def _word_end(text: str, at: int) -> int:
    """Return where a word ends; blanks inside round brackets belong to it."""
    end, inside = at, False
    while end < len(text):
        sign = text[end]
        inside = (inside or sign == "(") and sign != ")"
        if sign in "[]*" or (not inside and (sign.isspace() or sign in ",|")):
            break
        end += 1
    return max(end, at + 1)


def _repeat(parts: list[_Part], times: int) -> None:
    """Repeat the last part; of strokes written together only the last one."""
    word = parts[-1].word
    first = _last_stroke(word)
    if first:
        parts[-1:] = [_Part(word[:first]), _Part(word[first:])]
    parts[-1].times *= times


def _last_stroke(word: str) -> int:
    """Return where the last stroke of a sticking's word begins; 0 for any other word."""
    if not set(word) <= _STROKES:
        return 0
    if word.endswith(")"):
        return word.rfind("(")
    first = max(len(word) - 1, 0)
    while first > 0 and word[first - 1] in ">lr":
        first -= 1
    return first


def _line(parts: list[_Part]) -> str:
    """Return the whole text; in paths and values there are commas around what is repeated."""
    plain = all(_is_sticking(part) or (part.times == 1 and not part.parts) for part in parts)
    line = (" " if plain else ", ").join(map(_written, parts))
    return line.replace(", |,", " |")


def _is_sticking(part: _Part) -> bool:
    return all(map(_is_sticking, part.parts)) and set(part.word) <= _STROKES


def _written(part: _Part) -> str:
    inside = " ".join(map(_written, part.parts)) if part.parts else part.word
    if part.times == 1:
        return inside
    whole = not part.parts or " " not in inside
    return f"{inside} x{part.times}" if whole else f"|: {inside} :| x{part.times}"


_STROKES = set(">()lrRLBKH-| ")

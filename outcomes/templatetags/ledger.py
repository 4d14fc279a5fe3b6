"""The fields of the ledger, written at once: a visit has hundreds of them."""

from dataclasses import replace
from functools import lru_cache
from html import escape
from typing import Any, Final

from django import template
from django.utils.safestring import SafeString

from outcomes.charts.drop_signs import Kept, Way, draw_kept, draw_way
from outcomes.charts.pelvis import Pelvis, draw_pelvis

register = template.Library()


@register.filter
def cell_at(row: Any, limb: str) -> Any:
    """The cell of one limb of a row, or None: on paper left is always left."""
    return next((cell for cell in row.cells if cell.limb == limb), None)


HIDDEN: Final = ' class="visually-hidden"'


@register.simple_tag
def entry_field(field: Any, named: object = False, describe: str = "") -> SafeString:
    """A ``forms.ledger_fields.Field``; ``named`` shows its label, ``describe`` is what says more.

    >>> from types import SimpleNamespace
    >>> tick = SimpleNamespace(kind="tick", id="a", name="a", label="none", value="", wrong=False)
    >>> entry_field(tick)
    '<label class="tick"><input type="checkbox" id="a" name="a" value="1"> none</label>'
    """
    write = _WRITERS.get(field.kind, _number)
    return SafeString(
        write(field, bool(named), f' aria-describedby="{escape(describe)}"' * bool(describe))
    )


def _wrong(field: Any) -> str:
    return ' aria-invalid="true"' if field.wrong else ""


def _last(field: Any) -> str:
    """What the page's script copies: the condition of last time."""
    return f' data-last="{escape(field.last)}"' if field.last else ""


def _most(field: Any) -> str:
    """What tells the page's script when a number is complete."""
    if not field.most:
        return ""
    unit = escape(field.most_in)
    return f' data-most="{field.most}" data-most-in="{unit}" data-decimals="{field.decimals}"'


def _optional(field: Any) -> str:
    return " data-optional" if field.optional else ""


def _called(field: Any) -> str:
    return f'id="{escape(field.id)}" name="{escape(field.name)}"'


def _label(field: Any, named: bool) -> str:
    hidden = "" if named else HIDDEN
    return f'<label for="{escape(field.id)}"{hidden}>{escape(field.label)}</label>'


def _choices(field: Any, named: bool, describe: str) -> str:
    start = f'<div><label><input type="radio" name="{escape(field.name)}" value="'
    after = f"{_last(field)}{_wrong(field)}>"
    options = "\n    ".join(
        f'{start}{escape(option.code)}"{" checked" if option.code == field.value else ""}{after}'
        f"{_drawn(option.drawing) if option.drawing else ''}{_words(option)}</label></div>"
        for option in field.options
    )
    hidden = "" if named or field.named else HIDDEN
    return (
        f'<fieldset class="choices {field.kind}" id="{escape(field.id)}" tabindex="-1"'
        f"{_optional(field)}{describe}>\n  <legend{hidden}>{_words(field)}</legend>\n"
        f"  <div>\n    {options}\n  </div>\n</fieldset>"
    )


def _words(named: Any) -> str:
    """The label of a field or a choice; of one in brief the whole is read out."""
    if not named.brief:
        return escape(named.label)
    brief, label = escape(named.brief), escape(named.label)
    return f'<span aria-hidden="true">{brief}</span><span{HIDDEN}>{label}</span>'


@lru_cache(maxsize=64)
def _drawn(drawing: Pelvis | Kept | Way) -> str:
    """The drawing; a person as seen from behind and from in front: the page shows one of them."""
    if isinstance(drawing, Way):
        return draw_way(way=drawing, beside_words=True)
    views = (replace(drawing, view="behind"), replace(drawing, view="front"))
    return "".join(f'<span class="seen-from-{view.view}">{_person(view)}</span>' for view in views)


def _person(drawing: Pelvis | Kept) -> str:
    if isinstance(drawing, Kept):
        return draw_kept(kept=drawing, beside_words=True)
    return draw_pelvis(pelvis=drawing, beside_words=True)


def _select(field: Any, named: bool, _: str) -> str:
    options = "\n    ".join(
        f'<option value="{escape(option.code)}"{" data-force" if option.force else ""}'
        f"{' selected' if option.code == field.value else ''}>{escape(option.label)}</option>"
        for option in field.options
    )
    return (
        f'<div class="field">\n  {_label(field, named)}\n  <select {_called(field)}'
        f"{_optional(field)}{_last(field)}{_wrong(field)}>\n    {options}\n  </select>\n</div>"
    )


def _tick(field: Any, _: bool, __: str) -> str:
    checked = " checked" if field.value else ""
    return (
        f'<label class="tick"><input type="checkbox" {_called(field)} '
        f'value="1"{checked}{_wrong(field)}> {escape(field.label)}</label>'
    )


def _text(field: Any, _: bool, __: str) -> str:
    return (
        f'<div class="field">\n  {_label(field, True)}\n  <input type="text" {_called(field)}'
        f' value="{escape(field.value)}" maxlength="200" placeholder=" " '
        f'autocomplete="off"{_wrong(field)}>\n</div>'
    )


def _long(field: Any, _: bool, __: str) -> str:
    return (
        f'<div class="field">\n  {_label(field, True)}\n  <textarea {_called(field)}'
        f' maxlength="4000" rows="2">{escape(field.value)}</textarea>\n</div>'
    )


def _number(field: Any, named: bool, describe: str) -> str:
    look = f" {field.look}" if field.look else ""
    return (
        f'<div class="number{look}">\n  {_label(field, named)}\n  <input type="text" '
        f'inputmode="{"numeric" if field.whole else "decimal"}" {_called(field)}'
        f' value="{escape(field.value)}" maxlength="60" placeholder=" " '
        f'autocomplete="off" enterkeyhint="next"{_optional(field)}{_last(field)}{describe}'
        f'{_most(field)}{_wrong(field)}><span class="unit">{escape(field.unit)}</span>\n</div>'
    )


_WRITERS: Final = {
    "chips": _choices,
    "drawn": _choices,
    "select": _select,
    "tick": _tick,
    "text": _text,
    "long": _long,
}

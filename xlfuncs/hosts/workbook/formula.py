"""Formulas as trees: a tokenizer, a parser and the nodes they build.

A reference keeps its columns as written and its rows as distances from the formula's own row where
they are relative, so one tree serves every copy of a formula down a column.
"""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass
from typing import NamedTuple

LAST_ROW, LAST_COLUMN = 1_048_576, 16_384

ERRORS = r"[#](?:NULL!|DIV/0!|VALUE!|REF!|NAME\?|NUM!|N/A|GETTING_DATA|SPILL!|CALC!)"
# A structured reference nests its brackets once; an apostrophe escapes the character after it.
BRACKETS = r"\[(?:[^\[\]']|'.|\[(?:[^\[\]']|'.)*\])*\]"

TOKEN = re.compile(
    rf"""
    (?P<space>[ \t\r\n]+)
  | (?P<text>"(?:[^"]|"")*")
  | (?P<error>{ERRORS})
  | (?P<sheet>(?:'(?:[^']|'')+'|(?:{BRACKETS})?[\w.:]+|{BRACKETS})!)
  | (?P<cell>\$?[A-Za-z]{{1,3}}\$?[0-9]{{1,7}})(?![\w.(\[])
  | (?P<columns>\$?[A-Za-z]{{1,3}}:\$?[A-Za-z]{{1,3}})(?![\w.(\[])
  | (?P<rows>\$?[0-9]{{1,7}}:\$?[0-9]{{1,7}})(?![\w.(\[])
  | (?P<number>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[Ee][+-]?[0-9]+)?)
  | (?P<function>(?:[^\W\d]|\\)[\w.\\]*)[ ]?(?=\()
  | (?P<table>(?:(?:[^\W\d]|\\)[\w.\\]*)?{BRACKETS})
  | (?P<name>(?:[^\W\d]|\\)[\w.\\?]*)
  | (?P<operator><=|>=|<>|[-+*/^&=<>%@:#(),;{{}}])
    """,
    re.VERBOSE,
)


# What a program puts before the name of a function that is newer than the file format, or that an
# add-in provides.
PREFIX = re.compile(r"^(?:_xlfn\.|_xlws\.|_xll\.|_xludf\.)+", re.IGNORECASE)


class FormulaError(Exception):
    """A formula that can't be read, or can't be given to the engine; the text says why."""


class Token(NamedTuple):
    kind: str
    text: str


def tokenize(formula: str) -> list[Token]:
    tokens: list[Token] = []
    position = 0
    while position < len(formula):
        match = TOKEN.match(formula, position)
        if match is None or match.lastgroup is None:
            raise FormulaError(f"its text can't be read at {formula[position : position + 12]!r}")
        tokens.append(Token(match.lastgroup, match[match.lastgroup]))
        position = match.end()
    return tokens


@dataclass(frozen=True)
class Literal:
    """Text, number, TRUE or FALSE, error value or array constant, as written."""

    text: str
    kind: str


@dataclass(frozen=True)
class Reference:
    """A rectangle on one sheet; a relative row counts from the row of the formula."""

    sheet: str
    top: int
    left: int
    bottom: int
    right: int
    top_relative: bool = False
    bottom_relative: bool = False
    whole: str = ""
    # Rows between which a reference to "this row" means anything.
    within: tuple[int, int] | None = None
    spill: bool = False

    @property
    def single(self) -> bool:
        return (
            not self.whole
            and not self.spill
            and (self.top, self.left, self.top_relative)
            == (self.bottom, self.right, self.bottom_relative)
        )

    def rows(self, row: int) -> tuple[int, int]:
        """First and last row as seen from a formula in `row`."""
        first = self.top + row * self.top_relative
        last = self.bottom + row * self.bottom_relative
        return (first, last) if first <= last else (last, first)


@dataclass(frozen=True)
class Name:
    sheet: str
    text: str


@dataclass(frozen=True)
class Table:
    text: str


@dataclass(frozen=True)
class Call:
    name: str
    arguments: tuple[Node, ...]


@dataclass(frozen=True)
class Unary:
    operator: str
    operand: Node


@dataclass(frozen=True)
class Postfix:
    operator: str
    operand: Node


@dataclass(frozen=True)
class Binary:
    operator: str
    left: Node
    right: Node


@dataclass(frozen=True)
class Group:
    """Parentheses."""

    inner: Node


@dataclass(frozen=True)
class Omitted:
    """Nothing between two commas."""


Node = Literal | Reference | Name | Table | Call | Unary | Postfix | Binary | Group | Omitted

COMPARISONS = ("=", "<>", "<", ">", "<=", ">=")
BINDING = (
    dict.fromkeys(COMPARISONS, 1) | {"&": 2, "+": 3, "-": 3, "*": 4, "/": 4, "^": 5} | {":": 8}
)
SIGN_BINDING = 7


@dataclass(frozen=True)
class Place:
    """Where a formula stands: its sheet, its row, and how far it was copied to the right."""

    sheet: str
    row: int
    columns: int = 0


def parse(formula: str, place: Place, add_in: Container[str] = ()) -> Node:
    """Tree of a formula; `add_in` names, in capitals, the functions that may carry a prefix."""
    return _Parser(tokenize(formula), place, add_in).whole()


class _Parser:
    def __init__(self, tokens: list[Token], place: Place, add_in: Container[str]) -> None:
        self.tokens = self._without_spaces(tokens)
        self.place = place
        self.add_in = add_in
        self.position = 0

    @staticmethod
    def _without_spaces(tokens: list[Token]) -> list[Token]:
        """Drop blanks; a blank between two references is the intersection operator."""
        kept = [token for token in tokens if token.kind != "space"]
        reference = {"cell", "columns", "rows", "name", "table", "sheet"}
        for before, space, after in zip(tokens, tokens[1:], tokens[2:], strict=False):
            if (
                space.kind == "space"
                and after.kind in reference | {"function"}
                and (before.kind in reference or before.text == ")")
            ):
                raise FormulaError("it intersects ranges with a space")
        return kept

    def peek(self) -> Token:
        if self.position < len(self.tokens):
            return self.tokens[self.position]
        return Token("end", "")

    def take(self) -> Token:
        token = self.peek()
        self.position += 1
        return token

    def expect(self, text: str) -> None:
        token = self.take()
        if token.text != text:
            raise FormulaError(f"its text can't be read at {token.text or 'its end'!r}")

    def whole(self) -> Node:
        node = self.expression(0)
        if self.peek().kind != "end":
            raise FormulaError(f"its text can't be read at {self.peek().text!r}")
        return node

    def expression(self, binding: int) -> Node:
        node = self.prefix()
        while True:
            token = self.peek()
            if token.kind != "operator":
                return node
            if token.text in ("%", "#"):
                self.take()
                node = self.postfix(token.text, node)
                continue
            strength = BINDING.get(token.text, 0)
            if strength <= binding:
                return node
            self.take()
            right = self.expression(strength)
            node = _joined(node, right) if token.text == ":" else Binary(token.text, node, right)

    def postfix(self, operator: str, node: Node) -> Node:
        if operator == "%":
            return Postfix("%", node)
        if isinstance(node, Reference) and node.single:
            values = {**node.__dict__, "spill": True}
            return Reference(**values)
        raise FormulaError("it reads a spilled range in a way that is not supported")

    def prefix(self) -> Node:
        token = self.take()
        if token.kind == "operator":
            if token.text in ("+", "-", "@"):
                return Unary(token.text, self.expression(SIGN_BINDING))
            if token.text == "(":
                inner = self.expression(0)
                if self.peek().text == ",":
                    raise FormulaError("it joins ranges with a comma")
                self.expect(")")
                return Group(inner)
            if token.text == "{":
                return self.array_constant()
        elif token.kind in ("text", "number", "error"):
            return Literal(token.text, token.kind)
        elif token.kind == "sheet":
            return self.on_sheet(token.text)
        elif token.kind in ("cell", "columns", "rows"):
            return reference(token, self.place.sheet, self.place)
        elif token.kind == "function":
            return self.call(token.text)
        elif token.kind == "table":
            return Table(token.text)
        elif token.kind == "name":
            if token.text.upper() in ("TRUE", "FALSE"):
                return Literal(token.text.upper(), "boolean")
            return Name("", token.text)
        raise FormulaError(f"its text can't be read at {token.text or 'its end'!r}")

    def call(self, name: str) -> Node:
        self.expect("(")
        name = PREFIX.sub("", name).upper()
        arguments: list[Node] = []
        if self.peek().text == ")":
            self.take()
            return Call(name, ())
        while True:
            if self.peek().kind == "operator" and self.peek().text in (",", ")"):
                arguments.append(Omitted())
            else:
                arguments.append(self.expression(0))
            token = self.take()
            if token.text == ")" and token.kind == "operator":
                break
            if token.text != ",":
                raise FormulaError(f"its text can't be read at {token.text or 'its end'!r}")
        if self.peek().text == "(":
            raise FormulaError("it calls the result of a function")
        if name == "SINGLE" and len(arguments) == 1:
            return Unary("@", arguments[0])
        if name == "ANCHORARRAY" and len(arguments) == 1:
            return self.postfix("#", arguments[0])
        return Call(name, tuple(arguments))

    def array_constant(self) -> Node:
        texts = ["{"]
        while self.peek().kind != "end":
            token = self.take()
            texts.append(token.text)
            if token.text == "}":
                return Literal("".join(texts), "array")
        raise FormulaError("its array constant is not closed")

    def on_sheet(self, text: str) -> Node:
        sheet = text[:-1]
        function = self.peek()
        if function.kind == "function" and PREFIX.sub("", function.text).upper() in self.add_in:
            return self.call(self.take().text)
        if sheet.startswith("'"):
            sheet = sheet[1:-1].replace("''", "'")
        if "[" in sheet:
            raise FormulaError("it reads another workbook")
        if ":" in sheet:
            raise FormulaError("it reads the same cells of several sheets")
        token = self.take()
        if token.kind in ("cell", "columns", "rows"):
            return reference(token, sheet, self.place)
        if token.kind == "name":
            return Name(sheet, token.text)
        if token.kind == "error":
            return Literal(token.text, "error")
        raise FormulaError(f"its text can't be read at {text + token.text!r}")


CELL = re.compile(r"(\$?[A-Za-z]{1,3})(\$?[0-9]+)")


def reference(token: Token, sheet: str, place: Place) -> Node:
    """Node of a cell, whole columns or whole rows; a text beyond the sheet's edge is a name."""
    if token.kind == "columns":
        left, right = sorted(_column(part, place) for part in token.text.split(":"))
        return Reference(sheet, 1, left, LAST_ROW, right, whole="columns")
    if token.kind == "rows":
        first, last = token.text.split(":")
        top, top_relative = _row(first, place)
        bottom, bottom_relative = _row(last, place)
        return Reference(
            sheet, top, 1, bottom, LAST_COLUMN, top_relative, bottom_relative, whole="rows"
        )
    match = CELL.match(token.text)
    assert match is not None
    if column_number(match[1]) > LAST_COLUMN or not 1 <= int(match[2].strip("$")) <= LAST_ROW:
        return Name("", token.text)
    column = _column(match[1], place)
    row, relative = _row(match[2], place)
    return Reference(sheet, row, column, row, column, relative, relative)


def _column(text: str, place: Place) -> int:
    number = column_number(text) + (0 if text.startswith("$") else place.columns)
    if not 1 <= number <= LAST_COLUMN:
        raise FormulaError(f"column {text} lies outside of a sheet")
    return number


def _row(text: str, place: Place) -> tuple[int, bool]:
    if text.startswith("$"):
        return int(text[1:]), False
    return int(text) - place.row, True


def _joined(first: Node, last: Node) -> Node:
    """The rectangle that `first:last` spans."""
    if not (isinstance(first, Reference) and isinstance(last, Reference)):
        raise FormulaError("it builds a range from the result of a function or a name")
    if first.whole or last.whole or first.spill or last.spill:
        raise FormulaError("it builds a range from whole columns, whole rows or a spilled range")
    left, right = sorted((first.left, last.right))
    return Reference(
        first.sheet,
        first.top,
        left,
        last.bottom,
        right,
        first.top_relative,
        last.bottom_relative,
    )


def column_number(letters: str) -> int:
    number = 0
    for letter in letters.lstrip("$").upper():
        number = number * 26 + ord(letter) - 64
    return number


def column_letters(number: int) -> str:
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def address(row: int, column: int) -> str:
    return f"{column_letters(column)}{row}"


CORNER = r"\$?([A-Z]{1,3})\$?([0-9]{1,7})"
BOX = re.compile(f"{CORNER}(?::{CORNER})?")


def box(text: str) -> tuple[int, int, int, int]:
    """Top, left, bottom and right of ``A1`` or ``A1:B2``."""
    match = BOX.fullmatch(text.upper())
    if match is None:
        raise FormulaError(f"{text[:40]!r} is not a range")
    top, left = int(match[2]), column_number(match[1])
    bottom, right = top, left
    if match[3] is not None:
        bottom, right = int(match[4]), column_number(match[3])
    if not (1 <= top <= bottom <= LAST_ROW and 1 <= left <= right <= LAST_COLUMN):
        raise FormulaError(f"{text[:40]!r} is not a range of a sheet")
    return top, left, bottom, right

"""From a formula of the workbook to a template: what it reads, and what the engine is to compute.

The engine is given plain cells of plain sheets. Names and table references are written out, blanks
between commas get a mark, and what Excel does otherwise than the engine (intersection in ordinary
formulas, comparison with 15 digits, numbers as text) is put into the formula.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterator
from dataclasses import dataclass, replace
from typing import Literal as Choice
from typing import Protocol
from xml.sax.saxutils import escape

import numpy as np
import numpy.typing as npt

from . import deviations
from .book import Book, TableArea
from .formula import (
    COMPARISONS,
    PREFIX,
    Binary,
    Call,
    FormulaError,
    Group,
    Literal,
    Name,
    Node,
    Omitted,
    Place,
    Postfix,
    Reference,
    Table,
    Token,
    Unary,
    column_letters,
    parse,
    reference,
    tokenize,
)

# Names under which the stand-ins of stand_ins.py are registered with the engine.
STAND_IN = "XLFILL_{}"
COMPARE = STAND_IN.format("COMPARE")
AS_TEXT = STAND_IN.format("TEXT")
DIFFERENCE = STAND_IN.format("DIFFERENCE")
FIXED_SIZE = STAND_IN.format("FIXED_SIZE")
SURE = STAND_IN.format("SURE")
PLAIN = STAND_IN.format("PLAIN")
LATE = STAND_IN.format("LATE")
CRITERION = STAND_IN.format("CRITERION")
GIVEN = STAND_IN.format("GIVEN")
MAYBE_GIVEN = STAND_IN.format("MAYBE_GIVEN")
NUMBER = STAND_IN.format("NUMBER")
ONLY_NUMBER = STAND_IN.format("ONLY_NUMBER")
ONCE = STAND_IN.format("ONCE")
NEAREST = STAND_IN.format("NEAREST")
OMITTED_MARK = "\u2063omitted\u2063"

Kind = Choice["ordinary", "dynamic", "array"]
ONE, PERHAPS, MANY = 0, 1, 2

LARGEST_NESTING = 20
MOST_EXPANSIONS = 1000
TOO_LONG = "it is too long"
BLANK_IN_ROW = "it picks a cell out of a row, where a blank one would become 0"
ARITHMETIC = frozenset("+-*/^")


class Surroundings(Protocol):
    """What a formula's text depends on beyond the row it stands in."""

    def counted_rows(self, call: Call, area: Reference, row: int) -> list[tuple[int, int]]:
        """Runs of rows of a range that a SUBTOTAL or AGGREGATE counts."""

    def stored_spill(self, spill: Reference, row: int) -> tuple[int, int, int, int] | None:
        """Range of a spilled array that is not computed again."""


@dataclass(frozen=True)
class Template:
    """What all copies of one formula have in common."""

    reads: tuple[Reference, ...] = ()
    calls_ours: bool = False
    # Why it can't be known which cells the formula reads.
    reads_unknown: str = ""
    # Why the engine can't compute it as Excel would.
    reason: str = ""
    # Holds a SUBTOTAL or AGGREGATE, whose result depends on hidden rows and on others of its kind.
    totals: bool = False
    # Its text is not the same in every row but for the rows of its references.
    by_row: bool = False
    sheet: str = ""
    tree: Node | None = None
    pattern: str = ""
    offsets: tuple[int, ...] = ()

    def texts(
        self, rows: npt.NDArray[np.int64], around: Callable[[bytes], bytes] = bytes
    ) -> list[bytes]:
        """The engine's formulas for the copies in `rows`, escaped for XML; `around` adds tags."""
        pattern = around(self.pattern.encode())
        if not self.offsets:
            return [pattern % ()] * len(rows)
        lines = {offset: (rows + offset).tolist() for offset in set(self.offsets)}
        return [pattern % each for each in zip(*map(lines.get, self.offsets), strict=True)]

    def text_in(self, row: int, surroundings: Surroundings) -> str:
        """The same where more than the rows of references depends on the row.

        Raises FormulaError where hidden rows can't be left out of a total.
        """
        assert self.tree is not None
        renderer = _Renderer(self.sheet, row, surroundings)
        return escape(renderer.text(self.tree)) % tuple(row + offset for offset in renderer.offsets)


class Translator:
    """Makes templates for one workbook."""

    def __init__(self, book: Book, ours: Container[str], known: Callable[[str], bool]) -> None:
        self.book = book
        self.ours = ours
        self.known = known
        # Defined names written out in the formula at hand; names can multiply each other.
        self.expansions = 0

    def template(
        self,
        formula: str,
        place: Place,
        column: int,
        kind: Kind = "ordinary",
        size: tuple[int, int] = (1, 1),
    ) -> Template:
        """Template of a formula in `column`; `size` is that of an array formula's range."""
        self.expansions = 0
        try:
            tree = self._resolved(parse(formula, place, self.ours), place, column, 0)
        except FormulaError as error:
            return self._unreadable(formula, place, column, str(error))
        except RecursionError:
            return self._unreadable(formula, place, column, TOO_LONG)
        nodes = list(walk(tree))
        calls = {node.name for node in nodes if isinstance(node, Call)}
        template = Template(
            reads=tuple(dict.fromkeys(node for node in nodes if isinstance(node, Reference))),
            calls_ours=any(name in self.ours for name in calls),
            reads_unknown=" and ".join(sorted(calls & deviations.READ_ANYTHING)),
            totals=bool(calls & deviations.HIDDEN_ROWS_MATTER),
            sheet=place.sheet,
        )
        renderer = _Renderer(place.sheet)
        try:
            converted = _Converter(self).root(tree, kind, size)
            pattern = escape(renderer.text(converted))
        except FormulaError as error:
            return replace(template, reason=str(error))
        except RecursionError:
            return replace(template, reason=TOO_LONG)
        return replace(
            template,
            tree=converted,
            by_row=template.totals
            or any(node.spill for node in template.reads)
            or any(_picks_row(node) for node in walk(converted)),
            pattern=pattern,
            offsets=tuple(renderer.offsets),
        )

    def _resolved(self, node: Node, place: Place, column: int, depth: int) -> Node:
        """The tree with names and table references written out."""
        if depth > LARGEST_NESTING:
            raise FormulaError("a defined name leads back to itself")

        def again(inner: Node) -> Node:
            return self._resolved(inner, place, column, depth)

        match node:
            case Reference():
                return self._on_known_sheet(node)
            case Table():
                return self.table_reference(node.text, place, column)
            case Name():
                return self._named(node, place, column, depth)
            case Call():
                if node.name not in self.ours and self.book.name_text(node.name, place.sheet):
                    raise FormulaError(f"{node.name} is a function that the workbook defines")
                return Call(node.name, tuple(again(argument) for argument in node.arguments))
            case Binary():
                return Binary(node.operator, again(node.left), again(node.right))
            case Unary():
                return Unary(node.operator, again(node.operand))
            case Postfix():
                return Postfix(node.operator, again(node.operand))
            case Group():
                return Group(again(node.inner))
        return node

    def _on_known_sheet(self, node: Reference) -> Reference:
        sheet = self.book.sheet_named(node.sheet)
        if sheet is None:
            raise FormulaError(f"it reads the sheet {node.sheet}, which is not in the workbook")
        return node if sheet == node.sheet else replace(node, sheet=sheet)

    def _named(self, node: Name, place: Place, column: int, depth: int) -> Node:
        if node.text.lower().startswith("_xlpm."):
            return node
        scope = place.sheet
        if node.sheet:
            scope = self.book.sheet_named(node.sheet) or node.sheet
        text = self.book.name_text(node.text, scope)
        if text is None:
            table = self.book.tables.get(node.text.lower())
            if table is None:
                raise FormulaError(f"the name {node.text} is not defined")
            return self.table_reference(f"{table.name}[]", place, column)
        try:
            tree = parse(text, Place(place.sheet, 0), self.ours)
        except FormulaError as error:
            raise FormulaError(f"the name {node.text} can't be used: {error}") from None
        if _is_relative(text):
            raise FormulaError(f"the name {node.text} is relative to the cell that uses it")
        self.expansions += 1
        if self.expansions > MOST_EXPANSIONS:
            raise FormulaError("it uses too many defined names")
        resolved = self._resolved(tree, place, column, depth + 1)
        return resolved if isinstance(resolved, Reference | Literal) else Group(resolved)

    def table_reference(self, text: str, place: Place, column: int) -> Node:
        name, _, rest = text.partition("[")
        if name:
            table = self.book.tables.get(name.lower())
        else:
            table = self.book.table_at(place.sheet, place.row, column)
        if table is None:
            raise FormulaError(f"the table {name or 'around the cell'} is not in the workbook")
        items, columns = _specifiers(rest[:-1])
        return _table_area(table, items, columns, place)

    def _unreadable(self, formula: str, place: Place, column: int, reason: str) -> Template:
        """Template of a formula that can't be computed, with all cells that its text names."""
        named = _Named(self, place, column)
        try:
            named.add(formula)
        except (FormulaError, RecursionError):
            named.unknown = True
            named.called |= set(re.findall(r"[\w.]+(?=\()", formula.upper()))
        named.unknown |= bool(named.called & deviations.READ_ANYTHING)
        return Template(
            reads=tuple(named.reads),
            calls_ours=any(name in self.ours for name in named.called),
            reads_unknown=reason if named.unknown else "",
            reason=reason,
        )


class _Named:
    """Cells and functions that the tokens of a formula name, also through defined names."""

    def __init__(self, translator: Translator, place: Place, column: int) -> None:
        self.translator = translator
        self.place = place
        self.column = column
        self.reads: set[Reference] = set()
        self.called: set[str] = set()
        # Whether it may read other cells than these.
        self.unknown = False
        self.seen: set[str] = set()

    def add(self, formula: str) -> None:
        sheet = self.place.sheet
        for token in tokenize(formula):
            if token.kind == "sheet":
                sheet = token.text[:-1].strip("'").replace("''", "'")
                self.unknown |= ":" in sheet and "[" not in sheet
                continue
            if token.kind in ("cell", "columns", "rows"):
                known = self.translator.book.sheet_named(sheet)
                node = reference(token, sheet, self.place)
                if known is not None and isinstance(node, Reference):
                    self.reads.add(replace(node, sheet=known))
            elif token.kind == "table":
                self._add_table(token.text)
            elif token.kind in ("name", "function") and "[" not in sheet:
                self._add_name(token, sheet)
            elif token.text == ":":
                self.unknown = True
            sheet = self.place.sheet

    def _add_table(self, text: str) -> None:
        node = self.translator.table_reference(text, self.place, self.column)
        if isinstance(node, Reference):
            self.reads.add(node)

    def _add_name(self, token: Token, sheet: str) -> None:
        name = PREFIX.sub("", token.text)
        if token.kind == "function":
            self.called.add(name.upper())
        text = self.translator.book.name_text(name, sheet)
        if text is None:
            if name.lower() in self.translator.book.tables:
                self._add_table(f"{name}[]")
        elif name.lower() not in self.seen:
            self.seen.add(name.lower())
            self.unknown |= _is_relative(text)
            self.add(text)


def _is_relative(text: str) -> bool:
    """Whether what a name stands for moves with the cell that uses the name."""
    return any(
        token.kind in ("cell", "columns", "rows")
        and not all(
            part.startswith("$") and (token.kind != "cell" or "$" in part[1:])
            for part in token.text.split(":")
        )
        for token in tokenize(text)
    )


def walk(node: Node) -> Iterator[Node]:
    """The node and all below it."""
    yield node
    match node:
        case Call():
            children: tuple[Node, ...] = node.arguments
        case Binary():
            children = (node.left, node.right)
        case Unary() | Postfix():
            children = (node.operand,)
        case Group():
            children = (node.inner,)
        case _:
            children = ()
    for child in children:
        yield from walk(child)


SPECIFIER = re.compile(r"\[((?:'.|[^'\]])*)\]|(@)")


def _specifiers(text: str) -> tuple[set[str], list[str]]:
    """Items (``#Totals``) and columns of what stands between a table's brackets."""
    text = text.strip()
    if text.startswith(("[", "@[")):
        parts = [match[1] or match[2] or "" for match in SPECIFIER.finditer(text)]
        if SPECIFIER.sub("", text).strip(" ,:"):
            raise FormulaError("it names a part of a table in a way that is not known")
    elif text.startswith("@"):
        parts = ["@", text[1:]]
    else:
        # A bracket in the name of a column is escaped and opens nothing.
        parts = [text]
    items: set[str] = set()
    columns: list[str] = []
    for part in parts:
        if part == "@":
            items.add("#this row")
        elif part.startswith("#"):
            items.add(part.lower())
        elif part:
            columns.append(re.sub(r"'(.)", r"\1", part).lower())
    return items, columns


def _table_area(table: TableArea, items: set[str], columns: list[str], place: Place) -> Node:
    first, last = table.top + table.header_rows, table.bottom - table.total_rows
    rows = {
        "#all": (table.top, table.bottom),
        "#data": (first, last),
        "#headers": (table.top, table.top + table.header_rows - 1),
        "#totals": (table.bottom - table.total_rows + 1, table.bottom),
    }
    try:
        indexes = [table.columns.index(column) for column in columns]
    except ValueError:
        raise FormulaError(f"the table {table.name} has no such column") from None
    indexes = indexes or [0, len(table.columns) - 1]
    left, right = table.left + min(indexes), table.left + max(indexes)
    if "#this row" in items:
        if len(items) > 1 or place.sheet != table.sheet:
            raise FormulaError(f"it names a row of the table {table.name} that is not its own")
        return Reference(table.sheet, 0, left, 0, right, True, True, within=(first, last))
    if not items <= set(rows):
        raise FormulaError(f"it names a part of the table {table.name} that is not known")
    chosen = [rows[item] for item in items or {"#data"}]
    top, bottom = min(top for top, _ in chosen), max(bottom for _, bottom in chosen)
    if any(low > high for low, high in chosen):
        raise FormulaError(f"the table {table.name} has no such row")
    return Reference(table.sheet, top, left, bottom, right)


def unwrapped(node: Node) -> Node:
    """The node inside of parentheses."""
    while isinstance(node, Group):
        node = node.inner
    return node


class _Converter:
    """Rewrites a resolved tree so that the engine gives Excel's answer, or says why it can't.

    Each method returns the new node and whether it may hold one value or several.
    """

    def __init__(self, translator: Translator) -> None:
        self.ours = translator.ours
        self.known = translator.known
        self.first_date = 0 if translator.book.date_1904 else deviations.FIRST_SURE_DATE
        # How many functions around the node at hand turn a #VALUE! into something else.
        self.around = 0

    def root(self, tree: Node, kind: Kind, size: tuple[int, int]) -> Node:
        node, many = self.convert(tree, array=kind != "ordinary")
        bare = unwrapped(node)
        if isinstance(bare, Binary) and bare.operator == "-":
            node = Call(DIFFERENCE, (bare.left, bare.right))
        if kind == "array":
            rows, columns = (Literal(str(length), "number") for length in size)
            return Call(FIXED_SIZE, (node, rows, columns))
        if kind == "ordinary" and many != ONE:
            # Without it the engine would spill; Excel shows the value of the own row or column,
            # or the first.
            return _intersected(node) if isinstance(node, Reference) else Unary("@", Group(node))
        return node

    def convert(self, node: Node, array: bool) -> tuple[Node, int]:
        match node:
            case Literal():
                several = node.kind == "array" and any(mark in node.text for mark in ",;")
                return node, MANY if several else ONE
            case Reference():
                return node, ONE if node.single else MANY
            case Name():
                return node, PERHAPS
            case Group():
                inner, many = self.convert(node.inner, array)
                return Group(inner), many
            case Unary():
                if node.operator == "@":
                    inner, _ = self.convert(node.operand, array)
                    bare = unwrapped(inner)
                    if isinstance(bare, Reference):
                        return _intersected(bare), ONE
                    return Unary("@", inner), ONE
                operand, many = self.operand(node.operand, array)
                return Unary(node.operator, self.plain(operand)), many
            case Postfix():
                operand, many = self.operand(node.operand, array)
                return Postfix(node.operator, self.plain(operand)), many
            case Binary():
                return self.binary(node, array)
            case Call():
                return self.call(node, array)
        return node, ONE

    def value(self, node: Node, array: bool) -> tuple[Node, int]:
        """Convert a node where one value is wanted: an ordinary formula intersects a range."""
        bare = unwrapped(node)
        if not array and isinstance(bare, Reference) and not bare.single:
            return _intersected(bare), ONE
        return self.convert(node, array)

    def operand(self, node: Node, array: bool) -> tuple[Node, int]:
        converted, many = self.value(node, array)
        bare = unwrapped(converted)
        if isinstance(bare, Reference) and bare.whole:
            raise FormulaError("it computes with a whole column or row cell by cell")
        return converted, many

    def plain(self, node: Node) -> Node:
        """A node where a number is wanted; a text that may be one is not turned into an error."""
        is_number = isinstance(node, Literal) and node.kind == "number"
        return Call(PLAIN, (node,)) if self.around and not is_number else node

    def binary(self, node: Binary, array: bool) -> tuple[Node, int]:
        left, left_many = self.operand(node.left, array)
        right, right_many = self.operand(node.right, array)
        many = max(left_many, right_many)
        operator = node.operator
        if operator not in ARITHMETIC and any(_picks_column(side) for side in (left, right)):
            raise FormulaError(BLANK_IN_ROW)
        if operator == "&":
            return Binary("&", _as_text(left), _as_text(right)), many
        if operator == "^" and not (isinstance(right, Literal) and _is_positive_number(right)):
            return Call(STAND_IN.format("POWER"), (self.plain(left), self.plain(right))), many
        if operator in ARITHMETIC:
            return Binary(operator, self.plain(left), self.plain(right)), many
        exact = operator in ("=", "<>") and any(_is_exact(side) for side in (left, right))
        if operator in COMPARISONS and not exact:
            return Call(COMPARE, (left, Literal(f'"{operator}"', "text"), right)), many
        return Binary(operator, left, right), many

    def call(self, node: Call, array: bool) -> tuple[Node, int]:
        name = node.name
        if name in self.ours:
            return self.call_ours(node, array)
        if name in deviations.LEFT_ALONE:
            raise FormulaError(f"{name}: {deviations.LEFT_ALONE[name]}")
        if not self.known(name):
            raise FormulaError(f"the function {name} is not known here")
        if name not in deviations.COMPARED:
            raise FormulaError(f"the function {name} is not checked against Excel")
        self.check(node)
        letters = deviations.ARGUMENTS.get(name, "?")
        changes = name in deviations.VALUE_ERROR_CHANGES
        self.around += changes
        arguments: list[Node] = []
        result = MANY if name in deviations.RETURN_ARRAYS else ONE
        for index, argument in enumerate(node.arguments):
            letter = letters[min(index, len(letters) - 1)]
            if letter in "rapT":
                converted, many = self.convert(argument, array or letter == "a")
            else:
                converted, many = self.value(argument, array or letter == "?")
                if letter == "?" and many == MANY:
                    raise FormulaError(f"{name} of a range is not checked against Excel")
                if letter in "st" and many == MANY:
                    raise FormulaError(f"{name} over a range in an array formula")
            if letter in "lp":
                result = max(result, many)
            if letter in "tT":
                if _picks_column(converted):
                    raise FormulaError(BLANK_IN_ROW)
                converted = _as_text(converted)
            if name in deviations.OF_NUMBERS:
                converted = self.plain(converted)
            if name in deviations.PASS_OVER_TEXTS:
                converted = _given(converted, argument)
            if name == "SUMPRODUCT" and _may_hold_texts(converted, argument):
                converted = Call(ONLY_NUMBER, (converted,))
            if index == 0 and _is_approximate(node):
                converted = _for_approximate(converted)
            if index >= deviations.NUMBERS_FROM.get(name, len(node.arguments)):
                converted = _as_number(converted)
            arguments.append(converted)
        if name in deviations.PAIRS_OF_CRITERIA and len(arguments) > 2:
            area = unwrapped(arguments[0])
            if isinstance(area, Reference) and area.whole:
                arguments[1] = Call(CRITERION, (arguments[1],))
        self.around -= changes
        if name in deviations.NOISE_MATTERS and arguments:
            step = arguments[1] if len(arguments) > 1 else Literal("1", "number")
            if name != "TRUNC" or len(arguments) == 1:
                arguments[0] = Call(SURE, (arguments[0], step))
        if name in deviations.REPLACED or (
            name in deviations.REPLACED_FOR_COMPUTED and _are_computed(node.arguments)
        ):
            name = STAND_IN.format(name)
        if name == "SUMPRODUCT":
            # Texts and TRUE in a range count as 0, which the engine does for some only. Numbers
            # come before every text.
            ranges = [each for each in arguments if isinstance(unwrapped(each), Reference)]
            empty, one = Literal('""', "text"), Literal("1", "number")
            arguments += [Binary("*", Group(Binary("<", each, empty)), one) for each in ranges]
        call = self.with_late_dates(Call(name, tuple(arguments)))
        if name == "MATCH" and len(arguments) == 3 and _is_falling(node.arguments[2]):
            call = Call(ONCE, (call, Call("COUNTIF", (arguments[1], arguments[0]))))
        return call, result

    def with_late_dates(self, node: Call) -> Node:
        """The call, its dates held to those that Excel and the engine count alike."""
        first = Literal(str(self.first_date), "number")
        arguments = list(node.arguments)
        if self.first_date and node.name in deviations.DATES_AS_ARGUMENTS:
            dates = 1 if node.name in deviations.NO_DATES else 2
            arguments[:dates] = [Call(LATE, (date, first)) for date in arguments[:dates]]
        call = Call(node.name, tuple(arguments))
        return Call(LATE, (call, first)) if node.name in deviations.DATES_AS_RESULTS else call

    def call_ours(self, node: Call, array: bool) -> tuple[Node, int]:
        arguments: list[Node] = []
        result = PERHAPS
        for argument in node.arguments:
            if isinstance(argument, Omitted):
                arguments.append(Literal(f'"{OMITTED_MARK}"', "text"))
            else:
                converted, many = self.convert(argument, array)
                if _picks_column(converted):
                    raise FormulaError(BLANK_IN_ROW)
                arguments.append(converted)
                result = max(result, many)
        return Call(node.name, tuple(arguments)), result

    def check(self, node: Call) -> None:
        """Raise for a call in which the engine is known to differ and nothing helps."""
        name, arguments = node.name, node.arguments
        whole = [a for a in arguments if isinstance(a, Reference) and a.whole]
        if (
            name in deviations.SIGNIFICANCE
            and len(arguments) > 1
            and not (len(arguments) == 2 and _is_positive_number(arguments[1]))
        ):
            raise FormulaError(f"{name} with a significance that may be 0 or negative")
        if name == "TEXT" and len(arguments) == 2:
            form = arguments[1]
            if not (
                isinstance(form, Literal)
                and form.kind == "text"
                and deviations.TEXT_FORMAT.fullmatch(form.text[1:-1])
            ):
                raise FormulaError("TEXT with a format that may be read differently")
        if name == "SUMPRODUCT" and whole:
            raise FormulaError("SUMPRODUCT over whole columns or rows")
        if name == "MATCH" and len(arguments) == 3:
            falling = _is_falling(arguments[2])
            if not (falling or isinstance(unwrapped(arguments[2]), Literal | Omitted)):
                raise FormulaError("MATCH whose order is not written in the formula")
            if falling and not isinstance(unwrapped(arguments[1]), Reference | Name | Table):
                raise FormulaError("MATCH in falling order in an array")
        if name in ("GCD", "LCM") and len(arguments) != 2:
            raise FormulaError(f"{name} of other than two numbers")
        if name == "CONVERT" and not _is_one_of(arguments[1:], deviations.UNITS):
            raise FormulaError("CONVERT with a unit that the engine may not know")
        if name == "DATEDIF" and not _is_one_of(arguments[2:], deviations.DATEDIF_UNITS):
            raise FormulaError('DATEDIF in another unit than "d", "m", "y" or "ym"')
        if name in deviations.ERROR_SWALLOWERS and _are_computed(arguments):
            raise FormulaError(f"{name} of a computed value could hide that it was not computed")
        if name in deviations.HIDDEN_ROWS_MATTER:
            _check_totals(node)
        if name in deviations.ROW_BY_ROW and len(whole) > 1:
            raise FormulaError(f"{name} takes several whole columns or rows together")


def _intersected(node: Reference) -> Node:
    """The cell of a range in the formula's own row; the engine's @ makes 0 of a blank one."""
    if node.whole == "columns" and node.left == node.right:
        return Reference(node.sheet, 0, node.left, 0, node.left, True, True)
    return node if node.single else Unary("@", node)


def _picks_column(node: Node) -> bool:
    """Whether a node takes the cell of its own column out of a row; the engine makes a blank 0."""
    bare = unwrapped(node)
    return (
        isinstance(bare, Unary)
        and bare.operator == "@"
        and isinstance(bare.operand, Reference)
        and not _picks_row(bare)
    )


def _are_computed(arguments: tuple[Node, ...]) -> bool:
    return any(
        isinstance(inner, Call | Binary | Postfix)
        or (isinstance(inner, Unary) and inner.operator == "-")
        for argument in arguments
        for inner in walk(argument)
    )


def _check_totals(node: Call) -> None:
    codes = 1 if node.name == "SUBTOTAL" else 2
    literals, areas = node.arguments[:codes], node.arguments[codes:]
    if not all(isinstance(code, Literal) and code.kind == "number" for code in literals):
        raise FormulaError(f"{node.name} whose kind of total is not written in the formula")
    if not all(isinstance(area, Reference) and not area.spill for area in areas):
        raise FormulaError(f"{node.name} of something else than ranges")


def _is_positive_number(node: Node) -> bool:
    return isinstance(node, Literal) and node.kind == "number" and float(node.text) > 0


def _is_exact(node: Node) -> bool:
    """Whether a comparison with it is the same with 15 and with 17 digits."""
    return any(
        (isinstance(inner, Literal) and inner.kind in ("text", "boolean"))
        or (isinstance(inner, Binary) and inner.operator == "&")
        for inner in [unwrapped(node)]
    )


def _is_falling(order: Node) -> bool:
    """Whether the order of a MATCH is -1."""
    bare = unwrapped(order)
    return isinstance(bare, Unary) and bare.operator == "-" and _is_number(unwrapped(bare.operand))


def _is_one_of(arguments: tuple[Node, ...], texts: Container[str]) -> bool:
    """Whether all arguments are such texts, written out."""
    return all(
        isinstance(argument, Literal) and argument.kind == "text" and argument.text[1:-1] in texts
        for argument in arguments
    )


def _given(converted: Node, argument: Node) -> Node:
    """An argument of a total that passes over the texts of cells, but not over others."""
    bare = unwrapped(converted)
    if isinstance(bare, Unary) and bare.operator == "@":
        bare = unwrapped(bare.operand)
    if isinstance(bare, Reference | Postfix | Omitted) or _is_number(bare):
        return converted
    if isinstance(bare, Binary) and bare.operator != "&":
        return converted
    if isinstance(bare, Call) and _gives_cell(bare):
        return converted
    names = _called(converted, argument)
    reads = any(isinstance(inner, Reference) for inner in walk(bare))
    return Call(MAYBE_GIVEN if reads and names & deviations.MAY_GIVE_CELLS else GIVEN, (converted,))


def _called(converted: Node, argument: Node) -> set[str]:
    """Name of the call that an argument is; what stands in for a function has a name of its own."""
    return {node.name for node in map(unwrapped, (converted, argument)) if isinstance(node, Call)}


def _gives_cell(call: Call) -> bool:
    """Whether a call gives a cell rather than what is in it."""
    if call.name in ("OFFSET", "INDIRECT"):
        return True
    if call.name == "INDEX":
        return isinstance(unwrapped(call.arguments[0]), Reference)
    return (
        call.name == "XLOOKUP"
        and len(call.arguments) == 3
        and isinstance(unwrapped(call.arguments[2]), Reference)
    )


def _may_hold_texts(converted: Node, argument: Node) -> bool:
    """Whether an array that is no range may hold texts, which SUMPRODUCT takes for 0."""
    bare = unwrapped(converted)
    return (
        (isinstance(bare, Literal) and bare.kind in ("text", "array"))
        or (isinstance(bare, Binary) and bare.operator == "&")
        or bool(
            _called(converted, argument) & (deviations.RETURN_ARRAYS | deviations.MAY_GIVE_CELLS)
        )
    )


def _is_approximate(node: Call) -> bool:
    """Whether a look-up takes the nearest value where the very one is missing."""
    if node.name == "LOOKUP":
        return True
    place = {"MATCH": 2, "VLOOKUP": 3, "HLOOKUP": 3}.get(node.name)
    if place is None:
        return False
    if len(node.arguments) <= place:
        return True
    kind = unwrapped(node.arguments[place])
    return not (
        isinstance(kind, Omitted) or (isinstance(kind, Literal) and kind.text in ("0", "FALSE"))
    )


def _for_approximate(node: Node) -> Node:
    return node if _is_surely_number(node) else Call(NEAREST, (node,))


def _as_number(node: Node) -> Node:
    if isinstance(unwrapped(node), Omitted) or _is_surely_number(node):
        return node
    return Call(NUMBER, (node,))


def _is_surely_number(node: Node) -> bool:
    bare = unwrapped(node)
    return _is_number(bare) or (isinstance(bare, Binary) and bare.operator in ARITHMETIC)


def _is_number(node: Node) -> bool:
    return isinstance(node, Literal) and node.kind == "number"


def _as_text(node: Node) -> Node:
    bare = unwrapped(node)
    if isinstance(bare, Omitted):
        return Literal('""', "text")
    if isinstance(bare, Literal) and bare.kind == "text":
        return node
    if isinstance(bare, Binary) and bare.operator == "&":
        return node
    return Call(AS_TEXT, (node,))


def _picks_row(node: Node) -> bool:
    """Whether a node takes the cell of its own row out of a column."""
    return (
        isinstance(node, Unary)
        and node.operator == "@"
        and isinstance(node.operand, Reference)
        and node.operand.left == node.operand.right
        and not node.operand.spill
    )


class _Renderer:
    """Writes a tree as the engine's text, ``%d`` in place of each relative row."""

    def __init__(self, sheet: str, row: int = 0, surroundings: Surroundings | None = None) -> None:
        self.sheet = sheet
        self.row = row
        self.surroundings = surroundings
        self.offsets: list[int] = []

    def text(self, node: Node) -> str:
        match node:
            case Literal():
                return node.text.replace("%", "%%")
            case Reference():
                return self.reference(node)
            case Name():
                return node.text
            case Group():
                return f"({self.text(node.inner)})"
            case Unary():
                if self.surroundings is not None and _picks_row(node):
                    return self.own_row(node.operand)
                return f"{node.operator}{self.text(node.operand)}"
            case Postfix():
                return f"{self.text(node.operand)}%%"
            case Binary():
                return f"{self.text(node.left)}{node.operator}{self.text(node.right)}"
            case Call():
                arguments = node.arguments
                if self.surroundings is not None and node.name in deviations.HIDDEN_ROWS_MATTER:
                    arguments = tuple(self.visible(node))
                return f"{node.name}({','.join(self.text(argument) for argument in arguments)})"
        return ""

    def own_row(self, node: Node) -> str:
        assert isinstance(node, Reference)
        top, bottom = node.rows(self.row)
        if not top <= self.row <= bottom:
            return "#VALUE!"
        cell = Reference(node.sheet, self.row, node.left, self.row, node.left)
        return self.reference(cell)

    def visible(self, node: Call) -> Iterator[Node]:
        assert self.surroundings is not None
        for argument in node.arguments:
            if not isinstance(argument, Reference):
                yield argument
                continue
            for top, bottom in self.surroundings.counted_rows(node, argument, self.row):
                yield Reference(argument.sheet, top, argument.left, bottom, argument.right)

    def reference(self, node: Reference) -> str:
        if node.spill and self.surroundings is not None:
            area = self.surroundings.stored_spill(node, self.row)
            if area is not None:
                return self.reference(Reference(node.sheet, *area))
        prefix = ""
        if node.sheet != self.sheet:
            prefix = "'" + node.sheet.replace("'", "''").replace("%", "%%") + "'!"
        left, right = column_letters(node.left), column_letters(node.right)
        if node.whole == "columns":
            return f"{prefix}${left}:${right}"
        top = self.line(node.top, node.top_relative)
        if node.single or node.spill:
            return f"{prefix}${left}{top}{'#' if node.spill else ''}"
        bottom = self.line(node.bottom, node.bottom_relative)
        if node.whole == "rows":
            return f"{prefix}{top}:{bottom}"
        return f"{prefix}${left}{top}:${right}{bottom}"

    def line(self, number: int, relative: bool) -> str:
        if not relative:
            return f"${number}"
        self.offsets.append(number)
        return "%d"

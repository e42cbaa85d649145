"""The one exception that says, in a line a person can act on, why a workbook is not touched."""


class Refusal(Exception):  # noqa: N818 - it is not an error of the program
    """The workbook can't be filled as asked; nothing has been written."""

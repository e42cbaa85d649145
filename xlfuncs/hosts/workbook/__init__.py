"""Fills the results of worksheet functions into a workbook without a spreadsheet program."""

from .fill import fill
from .refusal import Refusal
from .report import Report, SecondOpinion

__all__ = ["Refusal", "Report", "SecondOpinion", "fill"]

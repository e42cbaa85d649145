"""Workbooks for the job, each built by its module and committed with its results.

``python -m workbooks`` builds and fills them all.
"""

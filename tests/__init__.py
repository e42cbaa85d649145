"""Tests of xlfuncs."""

"""Builders and helpers that the tests share. Every number is typed by hand, none is read from the code under test."""

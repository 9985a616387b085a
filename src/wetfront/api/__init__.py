"""The record and the calculations over HTTP."""

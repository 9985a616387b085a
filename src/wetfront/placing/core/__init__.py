"""The compiled core of the pour simulator (C, loaded without a Python ABI), and the plain one where it is not there."""

"""Plan a pour, steer it live, and prove afterwards what was built."""

__version__ = "0.1.0"

"""The one error shape: what was wrong, by the key that was wrong."""

from collections.abc import Sequence


class WetfrontError(Exception):
    """Anything a person can put right. `code` is for programs, the text for people."""

    code = "error"

    def __init__(self, message: str):
        self.message = message
        super().__init__(message)


class InvalidInput(WetfrontError):
    """One input is missing, of the wrong kind, or not among what is allowed."""

    code = "invalid-input"

    def __init__(self, key: str, message: str):
        self.key = key
        super().__init__(message)


class OutOfRange(InvalidInput):
    """A number outside the range in which a method holds."""

    code = "out-of-range"

    def __init__(self, key: str, value: float, allowed: str, method: str):
        super().__init__(key, f"{key} is {value:g}; {method} holds for {key} {allowed}")


class Problem:
    """One mistake found in a file: where, what was found, what is allowed."""

    __slots__ = ("allowed", "file", "found", "key", "line", "nearest")

    def __init__(
        self, file: str, key: str, found: str, allowed: str, line: int | None = None, nearest: str | None = None
    ):
        self.file, self.key, self.found, self.allowed, self.line, self.nearest = (
            file,
            key,
            found,
            allowed,
            line,
            nearest,
        )

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        hint = f" (did you mean {self.nearest}?)" if self.nearest else ""
        key = f"{self.key}: " if self.key else ""
        return f"{place}: {key}found {self.found}; allowed: {self.allowed}{hint}"


class SheetError(WetfrontError):
    """All mistakes of one file, reported together."""

    code = "sheet"

    def __init__(self, problems: Sequence[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NoFeasiblePlan(WetfrontError):
    """No candidate keeps within the limits; says which limit binds."""

    code = "no-feasible-plan"


class NoForecast(WetfrontError):
    """The weather series does not reach the day that was asked for."""

    code = "no-forecast"
